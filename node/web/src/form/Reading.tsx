import { readDay } from './days';
import { stepDay } from './Day';
import type { Typed } from './draft';
import { lineOf, type Parts, partsOf } from './readingParts';

interface Props {
  id: string;
  label: string;
  typed: Typed;
  onType: (typed: Typed) => void;
  onLeave: () => void;
  isWrong: boolean;
  describedBy: string;
  /** Hand or electronic: only times have it. */
  isTimed: boolean;
}

const sources = ['listed', 'estimated', 'verified'] as const;
const timings = ['', 'hand', 'electronic'] as const;

/** A number in the trade's notation, with where it comes from and when: together they are one value. */
export function Reading({ id, label, typed, onType, onLeave, isWrong, describedBy, isTimed }: Props) {
  const now = typed.parts ?? partsOf(typed.text);
  const change = (next: Partial<Parts>) => {
    const parts = { ...now, ...next };
    onType({ text: lineOf(parts), parts });
  };
  return (
    <div className="reading-field">
      <input
        id={id}
        aria-label={label}
        aria-invalid={isWrong}
        aria-describedby={describedBy}
        autoComplete="off"
        placeholder="6046, 6-4 3/4, 334, 4.98"
        value={now.number}
        onChange={(event) => change({ number: event.target.value })}
        onBlur={onLeave}
      />
      <select aria-label="Source" value={now.source} onChange={(event) => change({ source: event.target.value })} onBlur={onLeave}>
        <option value="">source</option>
        {sources.map((one) => (
          <option key={one}>{one}</option>
        ))}
      </select>
      {isTimed && (
        <select aria-label="Timing" value={now.timing} onChange={(event) => change({ timing: event.target.value })} onBlur={onLeave}>
          {timings.map((one) => (
            <option key={one} value={one}>
              {one || 'timing'}
            </option>
          ))}
        </select>
      )}
      <input
        aria-label="Date of the measurement"
        autoComplete="off"
        placeholder="YYYY-MM-DD"
        value={now.date}
        onChange={(event) => change({ date: event.target.value })}
        onKeyDown={(event) => stepDay(event, now.date, (date) => change({ date }))}
        onBlur={() => {
          const date = readDay(now.date, new Date());
          if (date !== now.date) change({ date });
          onLeave();
        }}
      />
    </div>
  );
}
