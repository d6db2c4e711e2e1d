import { Fragment, useId } from 'react';
import { Acts } from '../form/Acts';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { Dated } from '../parts/Dated';
import { count } from '../parts/words';
import { Wide } from '../parts/Wide';
import { ValueView } from '../value/ValueView';
import { fieldOf, ofKind, referenceIn, textIn } from './fields';
import { useOpen } from './open';
import { Reps } from './Reps';

interface Results {
  won: number;
  even: number;
  lost: number;
  open: number;
}

/** Who watched him where, and how the reps went. */
export function Looks({ prospect, related }: { prospect: Record; related: readonly Record[] }) {
  const [open, go] = useOpen();
  const looks = ofKind(related, 'look');
  if (looks.length === 0) return <p className="soft">Nobody has watched him yet.</p>;
  const reps = ofKind(related, 'rep');
  return (
    <Wide of="Looks">
      <table className="book looks">
        <thead>
          <tr>
            <th>Game</th>
            <th>How</th>
            <th>Scout</th>
            <th className="number">Reps</th>
            <th>Won, even, lost</th>
            <th>
              <span className="unseen">What can be done</span>
            </th>
          </tr>
        </thead>
        <tbody>
          {looks.map((look) => {
            const game = fieldOf(look, 'game');
            const own = reps.filter((rep) => referenceIn(rep, 'look') === look.id);
            const results = tally(own);
            const isOpen = open.look === look.id;
            return (
              <Fragment key={look.id}>
              <tr>
                <th scope="row">{game ? <ValueView field={game} plain show={(text) => <Dated text={text} />} /> : <span className="soft">no game named</span>}</th>
                <td>{textIn(look, 'mode')}</td>
                <td>{look.personName}</td>
                <td className="number">{sum(results)}</td>
                <td>
                  <RepBar results={results} />
                </td>
                <td className="acts-cell">
                  <Acts record={look} name={`the look at ${textIn(look, 'game')}`} onChange={() => go({ look: look.id, change: look.id })}>
                    <button type="button" className="act" aria-expanded={isOpen} onClick={() => go(isOpen ? {} : { look: look.id })}>
                      {isOpen ? 'hide the reps' : 'reps'}
                    </button>
                  </Acts>
                </td>
              </tr>
              {isOpen && (
                <tr className="opened">
                  <td colSpan={6}>
                    <Reps look={look} reps={own} prospect={prospect} related={related} />
                  </td>
                </tr>
              )}
              </Fragment>
            );
          })}
        </tbody>
      </table>
    </Wide>
  );
}

export function tally(reps: readonly Record[]): Results {
  const results: Results = { won: 0, even: 0, lost: 0, open: 0 };
  for (const rep of reps) {
    const result = textIn(rep, 'result');
    if (result === 'won' || result === 'even' || result === 'lost') results[result]++;
    else results.open++;
  }
  return results;
}

const sum = (r: Results) => r.won + r.even + r.lost + r.open;

const width = 160;

/** Reps as a bar: won full, even hatched, lost empty, so that it reads without colour; the counts stand beside it. */
function RepBar({ results }: { results: Results }) {
  const hatched = useId();
  const all = sum(results);
  if (all === 0) return <span className="soft">no reps charted</span>;
  const won = (width * results.won) / all;
  const even = (width * results.even) / all;
  const lost = (width * results.lost) / all;
  const words = `${results.won} won, ${results.even} even, ${results.lost} lost`;
  return (
    <span className="rep-bar">
      <svg width={width} height={12} role="img" aria-label={words}>
        <defs>
          <pattern id={hatched} width={4} height={4} patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <path d="M0 0v4" stroke="var(--accent)" strokeWidth={3} />
          </pattern>
        </defs>
        <rect x={0.5} y={0.5} width={won + even + lost - 1} height={11} fill="none" stroke="var(--accent)" />
        <rect width={won} height={12} fill="var(--accent)" />
        <rect x={won} width={even} height={12} fill={`url(#${hatched})`} />
      </svg>
      <span className="fine soft whole">
        {results.won} · {results.even} · {results.lost}
        {results.open > 0 && `, ${count(results.open, 'rep')} without a result`}
      </span>
    </span>
  );
}
