import { timestampFromMs } from '@bufbuild/protobuf/wkt';
import { type KeyboardEvent, type RefObject, useEffect, useRef, useState } from 'react';
import type { Field } from '../gen/plumbline/v1/record_pb';
import { Merged, toNextPlace } from '../merge/Merged';
import { type MergeSide, useMerge } from '../merge/useMerge';
import { minute } from '../parts/dates';
import type { Over } from './useDraft';
import { ValueView } from './ValueView';

interface Props {
  ref: RefObject<HTMLDivElement | null>;
  about: string;
  isProse: boolean;
  mine: string;
  /** What stood there when one began to type. */
  over: readonly Over[];
  /** What stands there now. */
  field: Field | undefined;
  onMine: () => void;
  onTheirs: () => void;
  /** Takes a merged text into the editor, to be looked at and saved. */
  onText: (text: string) => void;
  /** Goes back to typing. */
  onBack: () => void;
}

/** What came to stand there while somebody typed, below what they typed: one of them is chosen, by a number or with the mouse. */
export function Meanwhile({ ref, about, isProse, mine, over, field, onMine, onTheirs, onText, onBack }: Props) {
  const [isMerging, setMerging] = useState(false);
  const theirs = field?.values[0];
  const mayMerge = isProse && !field?.conflict && theirs !== undefined && !theirs.unreadable && mine.trim() !== '';
  const now = field?.values.map((one) => one.id).join() ?? '';
  const [looked, setLooked] = useState(now);
  const [isAnew, setAnew] = useState(false);

  const acts = [onMine, onTheirs, ...(mayMerge ? [() => setMerging(true)] : [])];
  /** What came since one last looked here wasn't chosen against. */
  const choose = (act: () => void) => {
    setAnew(looked !== now);
    setLooked(now);
    if (looked === now) act();
  };
  const press = (event: KeyboardEvent) => {
    const act = acts[Number(event.key) - 1];
    const isBack = event.key === 'Escape';
    if ((!act && !isBack) || event.defaultPrevented) return;
    event.preventDefault();
    event.stopPropagation();
    if (isBack) onBack();
    else if (act) choose(act);
  };
  return (
    // What arrives takes no focus: whoever is typing goes on typing, and Enter leads here.
    <div
      ref={ref}
      className="meanwhile notice"
      role="group"
      aria-label="It changed while you were typing"
      tabIndex={-1}
      onKeyDown={press}
      onFocus={(event) => event.target === event.currentTarget && setLooked(now)}
      onPointerEnter={() => setLooked(now)}
    >
      <p role="alert">
        It changed {isAnew ? 'once more' : 'while you were typing'}. Nothing is saved yet: press {isAnew ? '' : 'Enter, then '}a number.
      </p>
      <dl>
        <dt>As it is now</dt>
        <dd>{field ? <ValueView field={field} exact /> : 'nothing'}</dd>
        <dt>When you began</dt>
        <dd>{over.length > 0 ? over.map((one) => <Began key={`${one.by} ${one.text}`} over={one} />) : 'nothing'}</dd>
      </dl>
      <p className="answers">
        <button type="button" onClick={() => choose(onMine)}>
          <kbd>1</kbd> {mine.trim() === '' ? 'Clear it, as I did' : 'Save what I typed in its place'}
        </button>
        <button type="button" onClick={() => choose(onTheirs)}>
          <kbd>2</kbd> Keep it as it is now, drop what I typed
        </button>
        {mayMerge && (
          <button type="button" aria-expanded={isMerging} onClick={() => setMerging(true)}>
            <kbd>3</kbd> Put both together
          </button>
        )}
      </p>
      {isMerging && mayMerge && (
        <Both
          about={about}
          before={beginning(over)}
          sides={[
            { number: 1, text: mine, by: 'what you typed' },
            { number: 2, text: theirs.cleared ? '' : theirs.text, by: theirs.personName },
          ]}
          onText={onText}
        />
      )}
    </div>
  );
}

/** The one text that one began with; undefined if there were several. */
function beginning(over: readonly Over[]): string | undefined {
  const [text = '', ...others] = new Set(over.map((one) => (one.isNone ? '' : one.text)));
  return others.length === 0 ? text : undefined;
}

function Began({ over }: { over: Over }) {
  return (
    <span className="value">
      <span className="value-text">{over.text}</span>
      <span className="origin">
        {over.by || 'unknown'}, {minute(timestampFromMs(over.written))}
      </span>
    </span>
  );
}

interface BothProps {
  about: string;
  before: string | undefined;
  sides: readonly MergeSide[];
  onText: (text: string) => void;
}

/** Both texts together; at once in the editor if nobody changed what the other one changed. */
function Both({ about, before, sides, onText }: BothProps) {
  const merge = useMerge(`${about}/typed`, before, sides);
  const { proposal, forget } = merge;
  const isAsking = merge.places.length > 0 && proposal === undefined;
  const take = useRef(() => undefined as void);
  useEffect(() => {
    take.current = () => {
      if (proposal === undefined) return;
      forget();
      onText(proposal);
    };
  });
  useEffect(() => take.current(), [proposal]);
  useEffect(() => {
    if (isAsking) toNextPlace();
  }, [isAsking]);
  return <Merged merge={merge} />;
}
