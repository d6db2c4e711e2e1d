import type { Field, Value } from '../gen/plumbline/v1/record_pb';
import { day, minute } from '../parts/dates';
import { type Distinct, distinct } from './distinct';
import './value.css';

interface Props {
  field: Field;
  /** Shows something else for a value's text, such as a name in a link. */
  show?: (text: string, value: Value) => React.ReactNode;
  /** Leaves out where the value comes from, where the row says it already. */
  plain?: boolean;
  /** Whom the heading names already. */
  by?: string;
  /** Says when to the minute, where the times are what one compares. */
  exact?: boolean;
}

/**
 * A value, who wrote it, when, from which list, and whether others disagree. While they do, all values stand there, none
 * before the others. This is the only way in which the page shows a value of a record.
 */
export function ValueView({ field, show = (text) => text, plain = false, by, exact = false }: Props) {
  const values = distinct(field);
  if (values.length <= 1 || !field.conflict) {
    const only = values[0];
    if (only === undefined) return <span className="soft">—</span>;
    return (
      <span className="value">
        <span className="value-text">{show(only.text, first(only))}</span>
        {!plain && <Origin writers={only.writers} by={by} exact={exact} />}
      </span>
    );
  }
  return (
    <span className="value value-disputed">
      <span className="differs fine">≠ {values.length} values</span>
      <ul>
        {values.map((one) => (
          <li key={one.text}>
            <span className="value-text">{show(one.text, first(one))}</span>
            <Origin writers={one.writers} exact={exact} />
          </li>
        ))}
      </ul>
    </span>
  );
}

function first(one: Distinct): Value {
  const value = one.writers[0];
  if (value === undefined) throw new Error('a value without a writer');
  return value;
}

interface OriginProps {
  writers: readonly Value[];
  by?: string | undefined;
  /** To the minute, where the times are what one compares. */
  exact?: boolean;
}

/** Who wrote it, when, and from which list. */
export function Origin({ writers, by, exact = false }: OriginProps) {
  const [newest, ...others] = [...writers].sort(byTime);
  if (newest === undefined) return null;
  return (
    <span className="origin" title={writers.map(whole).join('\n')}>
      {(newest.personName !== by || others.length > 0) && (
        <>
          {newest.personName || 'unknown'}
          {others.length > 0 && <> and {others.length} more</>},{' '}
        </>
      )}
      <time>{exact ? minute(newest.written) : day(newest.written)}</time>
      {newest.source && <>, from {newest.source}</>}
    </span>
  );
}

const byTime = (a: Value, b: Value) => Number((b.written?.seconds ?? 0n) - (a.written?.seconds ?? 0n));

const whole = (v: Value) =>
  `${v.personName || 'unknown'}, ${minute(v.written)}${v.source ? `, from ${v.source}` : ', by hand'}`;
