import { type KeyboardEvent, useId, useRef, useState } from 'react';
import type { Offered } from './words';

export interface FieldProps {
  id: string;
  label: string;
  value: string;
  onChange: (text: string) => void;
  onLeave: () => void;
  placeholder?: string;
  isWrong: boolean;
  describedBy: string;
}

interface Props extends FieldProps {
  offered: readonly Offered[];
  /** Tab and Enter take the first of the offered. Not where the reader has to choose. */
  takesFirst: boolean;
  onTake: (item: Offered) => void;
  /** Says that the list is or may soon be looked at, so that it can be fetched. */
  onOpen?: () => void;
}

const most = 8;

/** A text field that offers what may be meant. Arrows move, Enter and Tab take, Esc closes the list. */
export function Choice({ offered, takesFirst, onTake, onOpen, ...field }: Props) {
  const [isOpen, setOpen] = useState(false);
  const [at, setAt] = useState(-1);
  const typedSince = useRef(false);
  const list = useId();
  const shown = offered.slice(0, Math.max(most, at + 1));
  const current = at >= 0 ? at : takesFirst && typedSince.current && shown.length > 0 ? 0 : -1;
  const open = (next: boolean) => {
    setOpen(next);
    setAt(-1);
    if (next) onOpen?.();
  };
  const take = (item: Offered | undefined) => {
    if (item) onTake(item);
    typedSince.current = false;
    open(false);
  };
  const move = (step: number) => {
    if (!isOpen) return open(true);
    setAt(Math.max(0, Math.min(offered.length - 1, current + step)));
  };
  const press = (event: KeyboardEvent) => {
    if (event.key === 'ArrowDown') move(1);
    else if (event.key === 'ArrowUp') move(-1);
    else if (event.key === 'Escape' && isOpen) open(false);
    else if (event.key === 'Enter' && !event.ctrlKey && isOpen && current >= 0) take(shown[current]);
    else if (event.key === 'Tab' && isOpen && current >= 0) return take(shown[current]);
    else return;
    event.preventDefault();
    event.stopPropagation();
  };
  const hasList = isOpen && shown.length > 0;
  return (
    <div className="choice-field">
      <input
        id={field.id}
        role="combobox"
        autoComplete="off"
        spellCheck={false}
        aria-expanded={hasList}
        aria-controls={list}
        aria-autocomplete="list"
        aria-activedescendant={hasList && current >= 0 ? `${list}${current}` : undefined}
        aria-invalid={field.isWrong}
        aria-describedby={field.describedBy || undefined}
        placeholder={field.placeholder}
        value={field.value}
        onChange={(event) => {
          typedSince.current = event.target.value.trim() !== '';
          field.onChange(event.target.value);
          open(true);
        }}
        onKeyDown={press}
        onFocus={(event) => {
          event.target.select();
          onOpen?.(); // what is offered is there by the time that something is typed
        }}
        onBlur={() => {
          open(false);
          field.onLeave();
        }}
      />
      <ul id={list} role="listbox" aria-label="What may be meant" className="offered" hidden={!hasList}>
        {hasList &&
          shown.map((item, i) => (
            <li
              key={item.id}
              id={`${list}${i}`}
              role="option"
              aria-selected={i === current}
              onMouseDown={(event) => {
                event.preventDefault(); // the field keeps the focus
                take(item);
              }}
            >
              <span>{item.text}</span>
              {item.aside && <span className="soft fine">{item.aside}</span>}
            </li>
          ))}
        {hasList && offered.length > shown.length && (
          <li role="option" aria-selected={false} aria-disabled className="soft fine more">
            and {offered.length - shown.length} more: type on
          </li>
        )}
      </ul>
    </div>
  );
}
