import { Merged } from '../merge/Merged';
import { Side } from '../merge/Side';
import { type Merge, useMerge } from '../merge/useMerge';
import { sentence } from '../transport';
import { textOf } from '../value/distinct';
import { draftOf } from '../value/useDraft';
import { Origin } from '../value/ValueView';
import { Another } from './Another';
import type { Choice } from './choices';
import { ChoiceButton } from './ChoiceButton';
import type { Props } from './ConflictCard';

/**
 * A text that people edited apart: what it was before and what each made of it side by side, and below what they come to
 * together. One of them is kept as it is, or the merged text, which can be edited before it is saved.
 */
export function ProseField({ conflict, known, gone, field, settle }: Props & { known: readonly Choice[] }) {
  const about = draftOf(conflict.record, conflict.field?.name ?? '');
  const before = conflict.ancestor;
  const sides = known.flatMap(({ writers: [first] }, i) => (first ? [{ number: i + 1, text: wording(first), by: first.personName }] : []));
  const merge = useMerge(about, before && wording(before), sides);
  const parts = merge.places.map((place) => place.part);
  const open = merge.places.filter(({ part, name }) => part.overlap && merge.chosen[name] === undefined).length;
  const write = (text: string, then: () => void) =>
    settle.write(text, () => {
      merge.forget();
      then();
    });
  return (
    <>
      <ol className="choices sides">
        <li className="side">
          <p className="side-head">
            {before ? <>Before · <Origin writers={[before]} exact /></> : 'Before'}
          </p>
          <p className="choice-text">{before ? textOf(before) : <i className="soft">{nothingBefore}</i>}</p>
        </li>
        {known.map((one, i) => (
          <ChoiceButton key={one.text} choice={one} number={i + 1} disabled={gone} onChoose={settle.choose}>
            <Side parts={parts} index={sides.findIndex((side) => side.number === i + 1)} text={one.text} />
          </ChoiceButton>
        ))}
      </ol>
      {merge.error && <p className="notice">They can’t be merged: {sentence(merge.error)}</p>}
      {parts.length > 0 && !gone && (
        <section className="merge">
          <h3>Together</h3>
          <p className="soft fine" role="status">
            {standing(merge, open)} Underlined is put in, struck is taken out, by the text with that number.
          </p>
          <Merged merge={merge} onEnter={saveIt} />
        </section>
      )}
      <Another
        about={about}
        kind={conflict.kind}
        record={conflict.record}
        gone={gone}
        over={conflict.field}
        field={field}
        onWrite={write}
        proposal={merge.proposal}
        placeholder={open > 0 ? 'the merged text stands here once each place is chosen; or write another' : 'another text'}
        rows={6}
      />
      {!gone && (
        <p className="hints soft fine">
          <kbd>1</kbd> to <kbd>{Math.min(known.length, 9)}</kbd> keep that text whole · <kbd>m</kbd> choose place by place, by the numbers
          that stand there · <kbd>e</kbd> edit the merged text, <kbd>Enter</kbd> saves it, <kbd>Shift</kbd> <kbd>Enter</kbd> begins a line ·{' '}
          <kbd>j</kbd> leave it for later · <kbd>o</kbd> open the record
        </p>
      )}
    </>
  );
}

/** Saves the text that stands there, as Enter in it does. */
const saveIt = () => document.querySelector<HTMLElement>('.another .main')?.click();

const nothingBefore = 'There is no one text that all of them come from, so nothing is merged by itself: what differs is underlined, and chosen below.';
function standing({ places }: Merge, open: number): string {
  if (open > 0) return open === 1 ? 'One place is to be chosen: several changed it.' : `${open} places are to be chosen: several changed them.`;
  return places.some(({ part }) => part.overlap) ? 'Every place is chosen.' : 'Nobody changed what another one changed.';
}

/** What a value says, none if it was cleared. */
const wording = (value: { cleared: boolean; text: string }) => (value.cleared ? '' : value.text);
