import type { KeyboardEvent } from 'react';
import type { FieldProps } from './Choice';
import { readDay, step } from './days';

/** A day as the trade's tables have it. "today" and "yesterday" are days too; arrows go from day to day. */
export function Day({ onChange, onLeave, ...field }: FieldProps) {
  return (
    <input
      id={field.id}
      autoComplete="off"
      aria-invalid={field.isWrong}
      aria-describedby={field.describedBy}
      placeholder={field.placeholder}
      value={field.value}
      onChange={(event) => onChange(event.target.value)}
      onKeyDown={(event) => stepDay(event, field.value, onChange)}
      onFocus={(event) => event.target.select()}
      onBlur={() => {
        const day = readDay(field.value, new Date());
        if (day !== field.value) onChange(day);
        onLeave();
      }}
    />
  );
}

export function stepDay(event: KeyboardEvent, value: string, onChange: (day: string) => void) {
  if (event.key !== 'ArrowUp' && event.key !== 'ArrowDown') return;
  event.preventDefault();
  onChange(step(value, event.key === 'ArrowUp' ? 1 : -1, new Date()));
}
