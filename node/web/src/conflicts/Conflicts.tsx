import { useQuery } from '@connectrpc/connect-query';
import { Link, useNavigate, useSearch } from '@tanstack/react-router';
import { useRef, useState } from 'react';
import { useRights } from '../form/rights';
import { type Conflict, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { useKeys } from '../keys/useKeys';
import { freshOf, useCalm } from '../parts/calm';
import { toNextPlace } from '../merge/Merged';
import { placeOf } from '../parts/place';
import { labelOf } from '../parts/words';
import { sentence } from '../transport';
import { useChoices } from './choices';
import { ConflictCard } from './ConflictCard';
import './conflicts.css';
import { identify } from './identify';
import { type Settled, useSettle } from './useSettle';

interface Shown {
  row: Conflict;
  gone: boolean;
}

/** What a conflict is about that is about no field. */
const besides: { [about: string]: string } = { retirement: 'retired unread', same: 'joined and kept apart' };

/** Everything that only a person can settle, one after the other, from the keyboard. */
export function Conflicts() {
  const { record = '' } = useSearch({ from: '/conflicts' });
  const answer = useQuery(LedgerService.method.conflicts, { record });
  const fresh = freshOf(answer);
  const calm = useCalm(fresh?.conflicts, `of ${record}`, identify);
  const [chosen, setChosen] = useState('');
  const [settled, setSettled] = useState(new Map<string, string>());
  const [reopened, setReopened] = useState(false);
  const field = useRef<HTMLTextAreaElement>(null);
  const navigate = useNavigate();

  const { whoseToSettle } = useRights();
  const isOwn = (one: Shown) => whoseToSettle(one.row) === '';
  const isOver = (one: Shown) => one.gone || settled.has(identify(one.row));
  const here = calm.rows.findIndex((one) => identify(one.row) === chosen);
  const at = Math.max(0, here < 0 ? calm.rows.findIndex(isOwn) : here);
  const current = calm.rows[at];
  const show = (to: number) => {
    const one = calm.rows[Math.max(0, Math.min(calm.rows.length - 1, to))];
    if (!one) return;
    setChosen(identify(one.row));
    setReopened(false);
  };
  const choices = useChoices(current?.row);
  const settle = useSettle(current?.row, choices, ({ text, isOpen }: Settled) => {
    setReopened(isOpen);
    if (!current || isOpen) return;
    setSettled((before) => new Map(before).set(identify(current.row), text));
    const next = calm.rows.findIndex((one, i) => i > at && !isOver(one) && isOwn(one));
    show(next < 0 ? at : next);
    field.current?.blur();
  });
  useKeys({
    choose: (key) => current && !isOver(current) && isOwn(current) && settle.choose(Number(key)),
    write: () => field.current?.focus(),
    merge: toNextPlace,
    skip: () => show(at + 1),
    before: () => show(at - 1),
    openRecord: () => current && void navigate(placeOf(current.row.kind, current.row.record)),
  });

  if (answer.error) {
    return (
      <main className="text-page">
        <p className="notice">{sentence(answer.error)}</p>
      </main>
    );
  }
  if (!current) {
    return (
      <main className="text-page" aria-busy={answer.isPending}>
        <h1>Conflicts</h1>
        {fresh && <p className="soft">{record === '' ? nothing : nothingHere}</p>}
        {fresh && record !== '' && (
          <Link to="/conflicts" search={{}}>
            All conflicts
          </Link>
        )}
      </main>
    );
  }
  return (
    <main className="conflicts">
      <div className="pile">
        <h1>Conflicts</h1>
        <p className="soft" role="status">
          {standing(calm.rows.filter(isOwn), calm.rows.filter((one) => !isOwn(one)), isOver)}
          {calm.rows.length < (answer.data?.conflicts.length ?? 0) && (
            <button type="button" onClick={calm.renew}>
              more arrived: show
            </button>
          )}
        </p>
        <ol>
          {calm.rows.map((one, i) => (
            <li key={identify(one.row)} aria-current={i === at}>
              <button type="button" className="plain" onClick={() => show(i)}>
                <span className={isOver(one) ? 'over' : ''}>{one.row.title}</span>
                <span className="under fine">
                  <span className="unseen">, </span>
                  <span className="of soft">{one.row.field ? labelOf(one.row.field) : besides[one.row.about] ?? one.row.about}</span>
                  <span className="outcome">{outcome(one, settled)}</span>
                  {!isOwn(one) && !isOver(one) && <span className="soft">{whoseToSettle(one.row)} to settle</span>}
                </span>
              </button>
            </li>
          ))}
        </ol>
      </div>
      <div className="desk">
        <ConflictCard
          key={identify(current.row)}
          conflict={current.row}
          choices={choices}
          gone={isOver(current)}
          whose={whoseToSettle(current.row)}
          field={field}
          settle={settle}
        />
        {reopened && !isOver(current) && (
          <p className="notice" role="alert">
            {current.row.field
              ? 'Saved. Another value had arrived meanwhile and stands beside it: choose once more.'
              : 'Saved. Something had come in meanwhile that you hadn’t read, and keeps it in sight: choose once more.'}
          </p>
        )}
      </div>
    </main>
  );
}

const nothing = 'Nothing is in conflict. What people write differently will stand here, side by side.';
const nothingHere = 'Nothing about this record is in conflict.';

/** How much of it is left: for who looks at it, and for others. */
function standing(own: readonly Shown[], others: readonly Shown[], isOver: (one: Shown) => boolean): string {
  const left = own.filter((one) => !isOver(one)).length;
  const elsewhere = others.filter((one) => !isOver(one)).length;
  if (elsewhere === 0) return left === 0 ? 'All are settled.' : `${left} of ${own.length} to settle`;
  if (own.length === 0) return `None is yours to settle; ${elsewhere} others’`;
  return `${left === 0 ? 'All of yours are settled' : `${left} of ${own.length} to settle`}; ${elsewhere} others’`;
}

function outcome(one: Shown, settled: ReadonlyMap<string, string>): string {
  const text = settled.get(identify(one.row));
  if (text !== undefined) return `✓ saved: ${text}`;
  return one.gone ? '✓ settled elsewhere' : '';
}
