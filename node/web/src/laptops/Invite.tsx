import { useQuery } from '@connectrpc/connect-query';
import { type FormEvent, useEffect, useId, useRef, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { InviteResponse } from '../gen/plumbline/v1/staff_pb';
import { plainName } from '../parts/words';
import { Codes } from './Codes';
import { usePairing } from './usePairing';

/** Lets one laptop join, face to face. */
export function Invite({ onClose }: { onClose: () => void }) {
  const pairing = usePairing<InviteResponse>();
  const { step, isUnderWay, trouble } = pairing;
  const [whom, setWhom] = useState<Whom>(nobody);
  const close = () => {
    pairing.end();
    onClose();
  };
  return (
    <section className="panel" aria-labelledby="invite-title">
      <h2 id="invite-title">Invite a laptop</h2>
      {!isUnderWay && step?.step !== 'done' && (
        <Whom
          onInvite={(asked) => {
            setWhom(asked);
            void pairing.start((staff, signal) => staff.invite(asked, { signal }));
          }}
          onClose={close}
        />
      )}
      {trouble && (
        <p className="notice" role="alert">
          {trouble}
        </p>
      )}
      {step?.step === 'waiting' && <Waiting step={step} whom={whom} onEnd={close} />}
      {step?.step === 'code' && (
        <Codes key={step.code} {...pairing} code={step.code} onAnswer={pairing.answer} onEnd={close} />
      )}
      {step?.step === 'done' && (
        <>
          <p role="status">✓ {step.personName} has joined. What the staff holds goes over by itself.</p>
          <p className="answers">
            <button type="button" className="main" autoFocus onClick={close}>
              Good
            </button>
          </p>
        </>
      )}
    </section>
  );
}

interface Whom {
  person: string;
  title: string;
  director: boolean;
}

const nobody: Whom = { person: '', title: '', director: false };

function Whom({ onInvite, onClose }: { onInvite: (whom: Whom) => void; onClose: () => void }) {
  const [whom, setWhom] = useState(nobody);
  const kinds = useQuery(LedgerService.method.schema).data?.kinds;
  const titles = kinds?.find((kind) => kind.name === 'person')?.fields.find((one) => one.name === 'title')?.choices ?? [];
  const id = useId();
  const invite = (event: FormEvent) => {
    event.preventDefault();
    if (whom.person.trim() !== '') onInvite({ ...whom, person: whom.person.trim() });
  };
  return (
    <form onSubmit={invite}>
      <p className="soft">Both laptops side by side, on one network. One invitation lets one laptop in, and ends after ten minutes.</p>
      <div className="form">
        <label htmlFor={`${id}person`}>Whose laptop</label>
        <input
          id={`${id}person`}
          autoFocus
          autoComplete="off"
          placeholder="a name; one of the staff’s for one more laptop of theirs"
          value={whom.person}
          onChange={(event) => setWhom({ ...whom, person: event.target.value })}
        />
        <label htmlFor={`${id}title`}>Title</label>
        <select id={`${id}title`} value={whom.title} onChange={(event) => setWhom({ ...whom, title: event.target.value })}>
          <option value="">the usual one</option>
          {titles.map((one) => (
            <option key={one} value={one}>
              {plainName(one)}
            </option>
          ))}
        </select>
        <span />
        <label className="check">
          <input
            type="checkbox"
            checked={whom.director}
            onChange={(event) => setWhom({ ...whom, director: event.target.checked })}
          />
          with a director’s rights: inviting, revoking, the board
        </label>
      </div>
      <p className="answers">
        <button type="submit" className="main" disabled={whom.person.trim() === ''}>
          Invite
        </button>
        <button type="button" onClick={onClose}>
          Not now
        </button>
      </p>
    </form>
  );
}

/** Where the other laptop turns to, large enough to be read over a table. */
function Waiting({ step, whom, onEnd }: { step: InviteResponse; whom: Whom; onEnd: () => void }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  return (
    <>
      <h3 ref={heading} tabIndex={-1}>
        For {whom.person}
        {whom.title !== '' && `, ${plainName(whom.title)}`}
        {whom.director && ', with a director’s rights'}
      </h3>
      <p>On the other laptop, on the page Laptops, or with <code>plumbline join ADDRESS WORD</code>:</p>
      <dl className="shown">
        <div>
          <dt>{step.addresses.length > 1 ? 'Address, whichever is in reach' : 'Address'}</dt>
          {step.addresses.map((address) => (
            <dd key={address} data-part="address">
              {address}
            </dd>
          ))}
        </div>
        <div>
          <dt>Word</dt>
          <dd data-part="word">{step.word}</dd>
        </div>
      </dl>
      <p role="status" className="soft">
        Waiting for the other laptop.
      </p>
      <p className="answers">
        <button type="button" onClick={onEnd}>
          Stop
        </button>
      </p>
    </>
  );
}
