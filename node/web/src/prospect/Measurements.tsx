import type { JsonObject } from '@bufbuild/protobuf';
import { Acts } from '../form/Acts';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { plainName } from '../parts/words';
import { Wide } from '../parts/Wide';
import { ValueView } from '../value/ValueView';
import { fieldOf } from './fields';
import { useOpen } from './open';
import { type Reading, readings } from './readings';

/** Sources differ by sign and word, never by colour alone. */
const signs: { [source: string]: string } = { verified: '✓', estimated: '≈', listed: '·' };

/** Every number, with its source and date. The first of each kind counts; the others stay in sight. */
export function Measurements({ related, summary }: { related: readonly Record[]; summary: JsonObject }) {
  const all = readings(related);
  if (all.size === 0) return <p className="soft">No measurements yet.</p>;
  return (
    <Wide of="Measurements">
      <table className="book">
        <thead>
          <tr>
            <th>What</th>
            <th className="number">Reading</th>
            <th>Source</th>
            <th>Date</th>
            <th className="number">Standing</th>
            <th>Written by</th>
            <th>
              <span className="unseen">What can be done</span>
            </th>
          </tr>
        </thead>
        {[...all].map(([what, these]) => (
          <tbody key={what}>
            {these.map((reading, i) => (
              <Line key={reading.record.id} reading={reading} first={i === 0} standing={i === 0 ? standing(what, summary) : ''} />
            ))}
          </tbody>
        ))}
      </table>
    </Wide>
  );
}

function Line({ reading, first, standing }: { reading: Reading; first: boolean; standing: string }) {
  const field = fieldOf(reading.record, 'reading');
  const [, go] = useOpen();
  return (
    <tr className={first ? '' : 'outranked'}>
      <th scope="row" className="word">{first ? plainName(reading.what) : <span className="unseen">{plainName(reading.what)}</span>}</th>
      <td className="number reading">{field && <ValueView field={field} plain show={numberOnly} />}</td>
      <td>
        <span aria-hidden="true" className="source-sign">
          {signs[reading.source] ?? ''}
        </span>{' '}
        {reading.source || 'no source'}
        {reading.timing && `, ${reading.timing}`}
      </td>
      <td className="whole">{reading.date || <span className="soft">no date</span>}</td>
      <td className="number soft">{standing}</td>
      <td className="soft fine">{field && writer(field.values[0]?.personName, field.values[0]?.source)}</td>
      <td className="acts-cell">
        <Acts record={reading.record} name={`the ${plainName(reading.what)}`} onChange={() => go({ change: reading.record.id })} />
      </td>
    </tr>
  );
}

const numberOnly = (text: string) => text.split(',')[0];

const writer = (name = '', source = '') => (source ? `${name}, from ${source}` : name);

/** Where the number that counts stands among the prospects of his position. */
function standing(what: string, summary: JsonObject): string {
  const percentile = summary[`${what}_percentile`];
  const cohort = summary[`${what}_cohort`];
  if (typeof percentile !== 'number' || typeof cohort !== 'number') return '';
  return `${Math.round(percentile)} of 100, n ${cohort}`;
}
