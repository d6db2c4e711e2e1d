import { type FormEvent, useId, useState } from 'react';
import type { WrittenAlone } from '../gen/plumbline/v1/alone_pb';
import type { JoinResponse } from '../gen/plumbline/v1/staff_pb';
import { Along } from './Along';
import { Codes } from './Codes';
import { usePairing } from './usePairing';

interface Props {
  title: string;
  /** What was written alone on this laptop, to be taken along. */
  alone?: WrittenAlone | undefined;
  onClose?: () => void;
}

/** Joins the staff of a laptop that invites, face to face. */
export function Join({ title, alone, onClose }: Props) {
  const pairing = usePairing<JoinResponse>();
  // Held here, so that a word mistyped doesn't cost the address.
  const [where, setWhere] = useState<Place>({ address: '', word: '', device: '' });
  const { step, isUnderWay, trouble } = pairing;
  return (
    <section className="panel" aria-labelledby="join-title">
      <h2 id="join-title">{title}</h2>
      {!isUnderWay && step?.step !== 'done' && (
        <>
          {alone && <Along alone={alone} />}
          <Where
            where={where}
            onType={setWhere}
            onJoin={(to) => void pairing.start((staff, signal) => staff.join({ ...to, takeAlong: alone !== undefined }, { signal }))}
            onClose={onClose}
            trouble={trouble}
          />
        </>
      )}
      {isUnderWay && !step && (
        <p role="status" className="soft">
          Turning to the other laptop.
        </p>
      )}
      {step?.step === 'code' && (
        <Codes key={step.code} {...pairing} code={step.code} onAnswer={pairing.answer} onEnd={pairing.end} />
      )}
      {step?.step === 'done' && (
        <p role="status">
          ✓ This laptop is {step.personName}’s, of {step.staffName}. What the staff holds comes over by itself.
        </p>
      )}
    </section>
  );
}

interface Place {
  address: string;
  word: string;
  device: string;
}

interface WhereProps {
  where: Place;
  onType: (where: Place) => void;
  onJoin: (where: Place) => void;
  onClose: (() => void) | undefined;
  trouble: string;
}

function Where({ where, onType, onJoin, onClose, trouble }: WhereProps) {
  const id = useId();
  const isWhole = where.address.trim() !== '' && where.word.trim() !== '';
  const join = (event: FormEvent) => {
    event.preventDefault();
    if (isWhole) onJoin({ address: where.address.trim(), word: where.word.trim(), device: where.device.trim() });
  };
  const fields = [
    ['address', 'Address', 'as the inviting laptop shows it'],
    ['word', 'Word', 'as the inviting laptop shows it'],
    ['device', 'This laptop’s name', onClose ? 'as now, if left out' : 'the computer’s own, if left out'],
  ] as const;
  return (
    <form onSubmit={join}>
      <p className="soft">A director’s laptop invites: it shows an address and a word. No name goes over before both codes are right.</p>
      <div className="form">
        {fields.map(([name, label, hint]) => (
          <div key={name} className="pair">
            <label htmlFor={id + name}>{label}</label>
            <input
              id={id + name}
              autoComplete="off"
              spellCheck={false}
              placeholder={hint}
              autoFocus={trouble !== '' && name === 'word'}
              value={where[name]}
              onChange={(event) => onType({ ...where, [name]: event.target.value })}
            />
          </div>
        ))}
      </div>
      {trouble && (
        <p className="notice" role="alert">
          Not joined: {trouble}
        </p>
      )}
      <p className="answers">
        <button type="submit" className="main" disabled={!isWhole}>
          Join
        </button>
        {onClose && (
          <button type="button" onClick={onClose}>
            Stay alone
          </button>
        )}
      </p>
    </form>
  );
}
