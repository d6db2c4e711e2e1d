import { createClient } from '@connectrpc/connect';
import { useTransport } from '@connectrpc/connect-query';
import { type FormEvent, useId, useState } from 'react';
import { StaffService } from '../gen/plumbline/v1/staff_pb';
import { sentence } from '../transport';

/** Founds a staff. The answer goes straight to whoever shows the root: it is put into no cache. */
export function Found({ onRoot }: { onRoot: (root: string) => void }) {
  const staff = createClient(StaffService, useTransport());
  const [names, setNames] = useState({ staff: '', person: '', device: '' });
  const [trouble, setTrouble] = useState('');
  const [isBusy, setBusy] = useState(false);
  const id = useId();
  const isWhole = names.staff.trim() !== '' && names.person.trim() !== '';
  const found = (event: FormEvent) => {
    event.preventDefault();
    if (!isWhole || isBusy) return;
    setBusy(true);
    staff
      .found({ staff: names.staff.trim(), person: names.person.trim(), device: names.device.trim() })
      .then(({ root }) => onRoot(root))
      .catch((error) => setTrouble(sentence(error)))
      .finally(() => setBusy(false));
  };
  const fields = [
    ['staff', 'The staff’s name', ''],
    ['person', 'Your name', ''],
    ['device', 'This laptop’s name', 'the computer’s own, if left out'],
  ] as const;
  return (
    <section className="panel" aria-labelledby="found-title">
      <h2 id="found-title">Found a staff</h2>
      <form onSubmit={found}>
        <p className="soft">For the first laptop of a staff. Have paper and a pen at hand: the staff’s root is shown once.</p>
        <div className="form">
          {fields.map(([name, label, hint]) => (
            <div key={name} className="pair">
              <label htmlFor={id + name}>{label}</label>
              <input
                id={id + name}
                autoComplete="off"
                placeholder={hint}
                value={names[name]}
                onChange={(event) => setNames({ ...names, [name]: event.target.value })}
              />
            </div>
          ))}
        </div>
        {trouble && (
          <p className="notice" role="alert">
            Not founded: {trouble}
          </p>
        )}
        <p className="answers">
          <button type="submit" className="main" disabled={!isWhole || isBusy}>
            Found it
          </button>
        </p>
      </form>
    </section>
  );
}
