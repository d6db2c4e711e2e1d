import { Acts } from '../form/Acts';
import { useRights } from '../form/rights';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { plainName } from '../parts/words';
import { textIn } from './fields';
import { Forms } from './Forms';
import { useOpen } from './open';

interface Props {
  look: Record;
  reps: readonly Record[];
  prospect: Record;
  related: readonly Record[];
}

/** One look's reps as a chart, the newest last, where the next one is typed. */
export function Reps({ look, reps, prospect, related }: Props) {
  const [open, go] = useOpen();
  const why = useRights().whyNot('look', look);
  const isCharting = open.add === 'rep' && open.to === look.id;
  const isChanging = reps.some((rep) => rep.id === open.change);
  return (
    <div className="chart">
      {reps.length > 0 && (
        <div className="chart-rows" ref={(rows) => rows?.scrollTo?.(0, rows.scrollHeight)}>
          <table className="book">
            <thead>
              <tr>
                <th className="number">Rep</th>
                <th>Quarter, clock</th>
                <th>Down</th>
                <th>On</th>
                <th>Play</th>
                <th>He</th>
                <th>Opponent</th>
                <th>Result</th>
                <th>Seen</th>
                <th>
                  <span className="unseen">What can be done</span>
                </th>
              </tr>
            </thead>
            <tbody>
              {reps.map((rep) => (
                <Line key={rep.id} rep={rep} onChange={() => go({ look: look.id, change: rep.id })} />
              ))}
            </tbody>
          </table>
        </div>
      )}
      {(isCharting || isChanging) && <Forms kinds={['rep']} prospect={prospect} related={related} />}
      {!isCharting && !isChanging && why === '' && (
        <p className="part-acts">
          <button type="button" onClick={() => go({ look: look.id, add: 'rep', to: look.id })}>
            Chart the next rep
          </button>
        </p>
      )}
      {why !== '' && <p className="soft fine">{why}</p>}
    </div>
  );
}

function Line({ rep, onChange }: { rep: Record; onChange: () => void }) {
  const text = (name: string) => plainName(textIn(rep, name));
  const together = (...names: string[]) => names.map(text).filter((one) => one !== '').join(', '); // prettier-ignore
  const quarter = text('quarter') && (text('quarter') === '5' ? 'overtime' : `Q${text('quarter')}`);
  const down = text('down') && `${text('down')} & ${text('distance') || '?'}`;
  const disputed = rep.fields.filter((field) => field.conflict).length;
  return (
    <tr>
      <th scope="row" className="number">
        {text('number') || '—'}
        {disputed > 0 && <span className="differs"> ≠</span>}
      </th>
      <td>{[quarter, text('clock')].filter(Boolean).join(' ')}</td>
      <td>{down}</td>
      <td>{text('yard_line')}</td>
      <td>{together('play', 'scheme')}</td>
      <td>{together('side', 'pass_set', 'assignment')}</td>
      <td>{[text('opponent_jersey') && `#${text('opponent_jersey')}`, text('opponent_name'), together('alignment', 'move')].filter(Boolean).join(' ')}</td>
      <td>
        <b>{signs[text('result')]}</b> {together('result', 'outcome')}
      </td>
      <td className="seen">{[textIn(rep, 'seen').replaceAll('_', ' '), textIn(rep, 'observations')].filter(Boolean).join(': ')}</td>
      <td className="acts-cell">
        <Acts record={rep} name={`rep ${text('number')}`} onChange={onChange} />
      </td>
    </tr>
  );
}

const signs: { readonly [result: string]: string } = { won: '+', even: '=', lost: '−' };
