import { Acts } from '../form/Acts';
import { useFile } from '../form/File';
import { useRights } from '../form/rights';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { plainName } from '../parts/words';
import { Wide } from '../parts/Wide';
import { ValueView } from '../value/ValueView';
import { fieldOf, ofKind, textIn } from './fields';
import { useOpen } from './open';

const heads = ['overall', 'projected', 'reach', 'role', 'scheme_fit', 'comparison'];
const texts = ['summary', 'strengths', 'concerns', 'projection', 'verdict', 'growth', 'next_look', 'taste'];

/** The evaluations side by side: one column for each scout, so that who disagrees about what can be read across. */
export function Evaluations({ related }: { related: readonly Record[] }) {
  const all = ofKind(related, 'evaluation');
  if (all.length === 0) return <p className="soft">Nobody has evaluated him yet.</p>;
  const used = new Set(all.flatMap((one) => one.fields.map((field) => field.name)));
  const grades = [...used].filter((name) => name.startsWith('grades.')).sort();
  return (
    <>
      <Wide of="Grades">
        <table className="book grades">
          <thead>
            <tr>
              <th>Grade, 1 to 9</th>
              {all.map((one) => (
                <th key={one.id} className="number">
                  {one.personName}
                  <span className="soft fine filed">{textIn(one, 'filed') ? `filed ${textIn(one, 'filed')}` : 'a draft'}</span>
                  <EvaluationActs evaluation={one} />
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {[...heads.filter((name) => used.has(name)), ...grades].map((name) => (
              <tr key={name} className={name === 'overall' ? 'lead' : ''}>
                <th scope="row" className="word">{plainName(name)}</th>
                {all.map((one) => {
                  const field = fieldOf(one, name);
                  return (
                    <td key={one.id} className="number">
                      {field ? <ValueView field={field} plain show={(text) => text.replaceAll('_', ' ')} /> : <span className="soft">—</span>}
                    </td>
                  );
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </Wide>
      {all.map((one) => (
        <Words key={one.id} evaluation={one} />
      ))}
    </>
  );
}

function EvaluationActs({ evaluation }: { evaluation: Record }) {
  const [, go] = useOpen();
  const file = useFile();
  const isOwn = useRights().whyNot('evaluation', evaluation) === '';
  return (
    <Acts record={evaluation} name={`${evaluation.personName}’s evaluation`} onChange={() => go({ change: evaluation.id })}>
      {isOwn && !textIn(evaluation, 'filed') && (
        <button type="button" className="act" onClick={() => file(evaluation)}>
          file
        </button>
      )}
      {isOwn && (
        <button type="button" className="act" onClick={() => go({ add: 'claim', to: evaluation.id })}>
          claim
        </button>
      )}
    </Acts>
  );
}

function Words({ evaluation }: { evaluation: Record }) {
  const written = texts.flatMap((name) => fieldOf(evaluation, name) ?? []);
  if (written.length === 0) return null;
  return (
    <section className="words">
      <h3>{evaluation.personName}</h3>
      <dl className="record">
        {written.map((field) => (
          <div key={field.name}>
            <dt>{field.label}</dt>
            <dd>
              <ValueView field={field} by={evaluation.personName} />
            </dd>
          </div>
        ))}
      </dl>
    </section>
  );
}
