import { draftOf } from '../value/useDraft';
import { Another } from './Another';
import type { Choice } from './choices';
import { ChoiceButton } from './ChoiceButton';
import { Compared } from './Compared';
import type { Props } from './ConflictCard';
import { Before } from './Before';

/** The values of a field that is a word or a number: one of them is kept, or another one written. */
export function Unmerged({ conflict, choices, known, gone, field, settle }: Props & { known: readonly Choice[] }) {
  const name = conflict.field?.name ?? '';
  return (
    <>
      <Before value={conflict.ancestor} />
      <ol className="choices">
        {known.map((one, i) => (
          <ChoiceButton key={one.text} choice={one} number={i + 1} disabled={gone} onChoose={settle.choose}>
            <Compared text={one.text} other={known[i === 0 ? 1 : 0]?.text} />
          </ChoiceButton>
        ))}
      </ol>
      <Another about={draftOf(conflict.record, name)} kind={conflict.kind} record={conflict.record} gone={gone} over={conflict.field} field={field} onWrite={settle.write} />
      {!gone && (
        <p className="hints soft fine">
          <kbd>1</kbd> to <kbd>{Math.min(choices.all.length, 9)}</kbd> keep that value · <kbd>e</kbd> write another · <kbd>j</kbd> leave it
          for later · <kbd>o</kbd> open the record
        </p>
      )}
    </>
  );
}
