import { useMutation, useQuery } from '@connectrpc/connect-query';
import { Link } from '@tanstack/react-router';
import { useState } from 'react';
import { type Double, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { useKeys } from '../keys/useKeys';
import { freshOf, useCalm } from '../parts/calm';
import { plainName } from '../parts/words';
import { fieldOf } from '../prospect/fields';
import { sentence } from '../transport';
import { distinct } from '../value/distinct';
import { ValueView } from '../value/ValueView';
import './doubles.css';

type Answer = 'one' | 'two';

interface Said {
  answer: Answer;
  /** What stands since then, to be taken back by its ids. */
  seen: string[];
}

const pairKey = (double: Double) => `${double.first?.id}/${double.second?.id}`;

/** Prospects that may be one: joined or kept apart, which can be taken back. */
export function Doubles() {
  const answer = useQuery(LedgerService.method.doubles, {});
  const call = useMutation(LedgerService.method.same);
  const fresh = freshOf(answer);
  const calm = useCalm(fresh?.doubles, 'all', pairKey);
  const [chosen, setChosen] = useState('');
  const [said, setSaid] = useState(new Map<string, Said>());

  const at = Math.max(0, calm.rows.findIndex((one) => pairKey(one.row) === chosen));
  const { row: current, gone = false } = calm.rows[at] ?? {};
  const isOver = gone && current !== undefined && !said.has(pairKey(current));
  const show = (to: number) => {
    const pair = calm.rows[Math.max(0, Math.min(calm.rows.length - 1, to))];
    if (pair) setChosen(pairKey(pair.row));
  };
  const say = (what: Answer) => {
    const { first, second } = current ?? {};
    const before = current && said.get(pairKey(current));
    if (!current || !first || !second || isOver || before?.answer === what) return;
    call.mutate(
      { first: first.id, second: second.id, apart: what === 'two', seen: before?.seen ?? [] },
      {
        onSuccess: (saved) =>
          setSaid((all) => new Map(all).set(pairKey(current), { answer: what, seen: saved.said.map((one) => one.id) })),
      },
    );
  };
  useKeys({ join: () => say('one'), apart: () => say('two'), nextPair: () => show(at + 1), pairBefore: () => show(at - 1) });

  if (answer.error) {
    return (
      <main className="text-page">
        <p className="notice">{sentence(answer.error)}</p>
      </main>
    );
  }
  return (
    <main className="text-page doubles">
      <h1>Doubles</h1>
      <p className="soft pairs" role="status">
        {calm.waiting > 0 && (
          <button type="button" onClick={calm.renew}>
            {calm.waiting} arrived or went: show
          </button>
        )}
        {current ? `Pair ${at + 1} of ${calm.rows.length} that may be one player` : fresh && 'Nobody seems to be entered twice.'}
      </p>
      {current?.first && current.second && (
        <Pair
          key={pairKey(current)}
          double={current}
          first={current.first}
          second={current.second}
          said={said.get(pairKey(current))?.answer}
          isOver={isOver}
          onSay={say}
        />
      )}
      {call.error && (
        <p className="notice" role="alert">
          Not saved: {sentence(call.error)}
        </p>
      )}
    </main>
  );
}

interface PairProps {
  double: Double;
  first: Record;
  second: Record;
  said: Answer | undefined;
  /** It was answered elsewhere, or they are no doubles any more. */
  isOver: boolean;
  onSay: (what: Answer) => void;
}

function Pair({ double, first, second, said, isOver, onSay }: PairProps) {
  const names = [...new Set([...first.fields, ...second.fields].map((field) => field.name))];
  return (
    <section>
      <p>{double.reason}</p>
      <table className="book">
        <thead>
          <tr>
            <th />
            {[first, second].map((record) => (
              <th key={record.id}>
                <Link to="/prospects/$id" params={{ id: record.id }}>
                  {record.title}
                </Link>
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {names.map((name) => (
            <Line key={name} name={name} first={first} second={second} />
          ))}
        </tbody>
      </table>
      <p className="answers">
        <button type="button" className={said === 'one' ? 'main' : ''} disabled={isOver} onClick={() => onSay('one')}>
          <kbd>y</kbd> One player: join them
        </button>
        <button type="button" className={said === 'two' ? 'main' : ''} disabled={isOver} onClick={() => onSay('two')}>
          <kbd>n</kbd> Two players: keep them apart
        </button>
        <span role="status">{isOver && 'It was answered elsewhere, or they are no doubles any more.'}{said && `✓ saved: ${said === 'one' ? 'one player' : 'two players'}. Either can be taken back.`}</span>
      </p>
    </section>
  );
}

function Line({ name, first, second }: { name: string; first: Record; second: Record }) {
  const fields = [fieldOf(first, name), fieldOf(second, name)];
  const [a, b] = fields.map((field) => (field ? (distinct(field)[0]?.text ?? '') : ''));
  return (
    <tr>
      <th scope="row" className="word">
        {plainName(name)} {a !== '' && b !== '' && a !== b && <span className="differs">≠</span>}
      </th>
      {fields.map((field, i) => (
        <td key={i === 0 ? 'first' : 'second'}>{field ? <ValueView field={field} /> : <span className="soft">—</span>}</td>
      ))}
    </tr>
  );
}
