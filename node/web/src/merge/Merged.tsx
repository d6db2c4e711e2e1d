import { type KeyboardEvent, useRef } from 'react';
import type { MergedPart } from '../gen/plumbline/v1/ledger_pb';
import './merge.css';
import { type Option, optionsOf, type Place } from './places';
import type { Merge } from './useMerge';

interface Props {
  merge: Merge;
  /** Enter, at a place, once all of them are chosen. */
  onEnter?: (() => void) | undefined;
}

/**
 * The merged text. What one person changed is underlined, what they took out is struck, each with the number of their text;
 * what several changed differently stands as a choice, to be made by key.
 */
export function Merged({ merge, onEnter }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const choose = (place: string, text: string) => {
    merge.choose(place, text);
    const others = [...(box.current?.querySelectorAll<HTMLElement>('.place[data-open=true]') ?? [])];
    // After the last one the focus stays: a letter is a key still, and typed into nothing.
    others.find((one) => one.dataset.place !== place)?.focus();
  };
  return (
    <div ref={box} className="merged">
      {merge.places.map((place, i) =>
        place.part.overlap ? (
          <Overlap key={place.name} place={place} merge={merge} onChoose={(text) => choose(place.name, text)} onEnter={onEnter} />
        ) : (
          <Stretch key={`${i} ${place.part.before}`} part={place.part} numbers={merge.sides.map((side) => side.number)} />
        ),
      )}
    </div>
  );
}

/** Moves to the next place that is to be chosen. */
export function toNextPlace() {
  const open = document.querySelector<HTMLElement>('.place[data-open=true]') ?? document.querySelector<HTMLElement>('.place');
  open?.focus();
}

function Stretch({ part, numbers }: { part: MergedPart; numbers: readonly number[] }) {
  if (part.versions.length === 0) return <span>{part.text}</span>;
  const of = part.versions.flatMap((version, i) => (version === part.before ? [] : [numbers[i]]));
  return (
    <>
      {part.before !== '' && <del>{part.before}</del>}
      {part.text !== '' && <ins>{part.text}</ins>}
      <sup>
        <span className="unseen"> changed in text </span>
        {of.join(' ')}
      </sup>
    </>
  );
}

interface OverlapProps {
  place: Place;
  merge: Merge;
  onChoose: (text: string) => void;
  onEnter?: (() => void) | undefined;
}

function Overlap({ place, merge, onChoose, onEnter }: OverlapProps) {
  const chosen = merge.chosen[place.name];
  const options = optionsOf(place.part, merge.sides.map((side) => side.number), merge.hasAncestor);
  const press = (event: KeyboardEvent) => {
    const option = options.find((one) => one.key === event.key || one.of.includes(Number(event.key)));
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (onEnter && event.key === 'Enter' && event.target === event.currentTarget && merge.proposal !== undefined) {
      event.preventDefault();
      return onEnter();
    }
    // The number of a text that changed nothing here would stand for that text as a whole, around this place.
    if (!option && !/^\d$/.test(event.key)) return;
    event.preventDefault();
    if (option) onChoose(option.text);
  };
  return (
    <div
      className="place"
      role="group"
      aria-label={chosen === undefined ? 'A place to choose' : 'A place that is chosen'}
      data-open={chosen === undefined}
      data-place={place.name}
      tabIndex={-1}
      onKeyDown={press}
    >
      <span className="differs fine">{chosen === undefined ? '≠ choose what stands here' : '✓ chosen'}</span>
      <ul>
        {options.map((option) => (
          <li key={option.key}>
            <button type="button" aria-pressed={chosen === option.text} onClick={() => onChoose(option.text)}>
              <kbd>{option.of.length > 0 ? option.of.join(' ') : option.key}</kbd>
              <span>
                <span className="place-text">{option.text.trim() === '' ? <i>nothing</i> : option.text.trim()}</span>{' '}
                <span className="soft fine">{nameOf(option, merge)}</span>
              </span>
            </button>
          </li>
        ))}
      </ul>
    </div>
  );
}

function nameOf({ key, of }: Option, { sides }: Merge): string {
  if (key === 'b') return 'both, one after the other';
  if (key === '0') return 'as it was before';
  return sides.flatMap((side) => (of.includes(side.number) ? [side.by] : [])).join(', ');
}
