import { Acts } from '../form/Acts';
import type { Field, Record } from '../gen/plumbline/v1/record_pb';
import { count, plainName } from '../parts/words';
import { ValueView } from '../value/ValueView';
import { jsonIn, ofKind, textIn } from './fields';
import { useOpen } from './open';

/** What people wrote about him besides, flags first. */
export function Remarks({ related }: { related: readonly Record[] }) {
  const [, go] = useOpen();
  const remarks = kinds.flatMap((kind) => ofKind(related, kind));
  if (remarks.length === 0) return <p className="soft">Nothing yet.</p>;
  return remarks.map((remark) => (
    <article key={remark.id} className="remark">
      <p className="remark-head">
        <b>{plainName(remark.kind)}</b>
        {remark.personName && <span className="soft"> {remark.personName}</span>}
        <Acts record={remark} name={`the ${plainName(remark.kind)}`} onChange={() => go({ change: remark.id })} />
      </p>
      <dl className="record">
        {remark.fields
          .filter((field) => !hidden.includes(field.name))
          .map((field) => (
            <div key={field.name}>
              <dt>{field.label}</dt>
              <dd>
                <ValueView field={field} by={remark.personName} show={(text) => shown(field, text, remark, related)} />
              </dd>
            </div>
          ))}
      </dl>
    </article>
  ));
}

export const kinds = ['flag', 'assignment', 'claim', 'note'] as const;
const hidden = ['prospect', 'evaluation'];

/** Reps are shown by their numbers: ids say nothing to anybody. */
function shown(field: Field, text: string, remark: Record, related: readonly Record[]): string {
  if (field.name !== 'reps') return text;
  const ids = jsonIn(remark, 'reps');
  if (!Array.isArray(ids)) return text;
  const numbers = ids.map((id) => textIn(related.find((one) => one.id === id) ?? remark, 'number') || '?');
  return `${count(ids.length, 'rep')}: ${numbers.join(', ')}`;
}
