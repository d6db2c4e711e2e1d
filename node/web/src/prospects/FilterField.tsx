import { useQuery } from '@connectrpc/connect-query';
import { type KeyboardEvent, type RefObject, useEffect, useId, useMemo, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { complete, type Completion, type Name } from './complete';
import { placeOf } from './place';

interface Props {
  ref: RefObject<HTMLInputElement | null>;
  value: string;
  /** The node's sentence about the expression, if it refuses it. */
  refusal: string | undefined;
  /** Whether the node hasn't answered yet. */
  isAsking: boolean;
  onChange: (where: string) => void;
  onDone: () => void;
}

/** How long typing pauses before the expression is asked. Half of one is usually wrong. */
const pause = 300;
const nothing: Completion = { from: 0, names: [] };

/** An expression over prospects, as on the command line, with names completed and mistakes shown where they are. */
export function FilterField({ ref, value, refusal, isAsking, onChange, onDone }: Props) {
  const [text, setText] = useState(value);
  const [offer, setOffer] = useState(nothing);
  const [chosen, setChosen] = useState(0);
  const [isLeaving, setLeaving] = useState(false);
  const names = useNames();
  const id = useId();

  useEffect(() => {
    if (text === value) return;
    const timer = setTimeout(() => onChange(text), pause);
    return () => clearTimeout(timer);
  }, [text, value, onChange]);

  // Who asked for something wrong stays, to mend it: in the list the next letters would be commands.
  useEffect(() => {
    if (!isLeaving || text !== value || isAsking) return;
    setLeaving(false);
    if (refusal === undefined) onDone();
  }, [isLeaving, text, value, isAsking, refusal, onDone]);

  const type = (next: string, caret: number) => {
    setText(next);
    setLeaving(false);
    setOffer(complete(next, caret, names));
    setChosen(0);
  };
  const take = (name: Name) => {
    const caret = ref.current?.selectionStart ?? text.length;
    const next = text.slice(0, offer.from) + name.name + text.slice(caret);
    setText(next);
    setOffer(nothing);
    requestAnimationFrame(() => ref.current?.setSelectionRange(offer.from + name.name.length, offer.from + name.name.length));
  };
  const press = (event: KeyboardEvent) => {
    const name = offer.names[chosen];
    if (name && (event.key === 'Tab' || event.key === 'Enter')) take(name);
    else if (name && event.key === 'ArrowDown') setChosen((chosen + 1) % offer.names.length);
    else if (name && event.key === 'ArrowUp') setChosen((chosen + offer.names.length - 1) % offer.names.length);
    else if (event.key === 'Escape' && offer.names.length > 0) setOffer(nothing);
    else if (event.key === 'Escape') {
      onChange(text);
      onDone();
    } else if (event.key === 'Enter') {
      onChange(text);
      setLeaving(true);
    } else return;
    event.preventDefault();
  };

  return (
    <div className="filter">
      <input
        ref={ref}
        role="combobox"
        aria-label="Filter by an expression"
        aria-expanded={offer.names.length > 0}
        aria-controls={`${id}names`}
        aria-activedescendant={offer.names.length > 0 ? `${id}name${chosen}` : undefined}
        aria-autocomplete="list"
        aria-invalid={refusal !== undefined}
        aria-describedby={`${id}wrong`}
        autoComplete="off"
        spellCheck={false}
        placeholder='filter: position == "tackle" && arm >= 334 && looks >= 2'
        value={text}
        onChange={(event) => type(event.target.value, event.target.selectionStart ?? event.target.value.length)}
        onKeyDown={press}
        onBlur={() => setOffer(nothing)}
      />
      <ul role="listbox" aria-label="Names" id={`${id}names`} className="offer" hidden={offer.names.length === 0}>
        {offer.names.map((name, i) => (
          <li
            key={name.name}
            id={`${id}name${i}`}
            role="option"
            aria-selected={i === chosen}
            onMouseDown={(event) => {
              event.preventDefault();
              take(name);
            }}
          >
            <b>{name.name}</b> <span className="soft fine">{name.help || name.type}</span>
          </li>
        ))}
      </ul>
      <div id={`${id}wrong`} role="status">
        {refusal !== undefined && <Wrong sentence={refusal} expression={value} />}
      </div>
    </div>
  );
}

/** The expression with the mistake marked, and what is wrong there. */
function Wrong({ sentence, expression }: { sentence: string; expression: string }) {
  const place = placeOf(sentence, expression);
  if (!place) return <p className="wrong">{sentence}</p>;
  return (
    <p className="wrong">
      <span className="wrong-text">
        {place.before}
        <mark>{place.wrong || '⟨end⟩'}</mark>
        {place.after}
      </span>
      <span className="wrong-reason">▲ {place.reason}</span>
      <span className="soft fine">The list is still that of the last expression that was right.</span>
    </p>
  );
}

/** The fields and figures of a prospect. */
function useNames(): readonly Name[] {
  const schema = useQuery(LedgerService.method.schema, {}, { staleTime: Number.POSITIVE_INFINITY }).data;
  return useMemo(() => {
    const kind = schema?.kinds.find((one) => one.name === 'prospect');
    return [...(kind?.fields ?? []), ...(kind?.figures ?? [])];
  }, [schema]);
}
