import { useQuery } from '@connectrpc/connect-query';
import { Link } from '@tanstack/react-router';
import type { RefObject } from 'react';
import { type Conflict, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { placeOf } from '../parts/place';
import { labelOf, plainName } from '../parts/words';
import { sentence } from '../transport';
import { ChoiceButton } from './ChoiceButton';
import type { Choice, Choices } from './choices';
import { Foreign } from './Foreign';
import { ProseField } from './ProseField';
import { Unfielded } from './Unfielded';
import { Unmerged } from './Unmerged';
import type { useSettle } from './useSettle';

export interface Props {
  conflict: Conflict;
  choices: Choices;
  /** Set when it isn't in conflict any more. */
  gone: boolean;
  /** Whose it is to settle, as “Tobin Ash’s”; empty if it is this laptop’s. */
  whose: string;
  field: RefObject<HTMLTextAreaElement | null>;
  settle: ReturnType<typeof useSettle>;
}

/** One conflict: what differs, who wrote which, and what to press. The only way in which the page shows a conflict. */
export function ConflictCard(props: Props) {
  const { conflict, choices, gone, whose, settle } = props;
  return (
    <article className="card" aria-labelledby="card-title">
      <p className="soft">{plainName(conflict.kind)}</p>
      <h2 id="card-title">
        <Link {...placeOf(conflict.kind, conflict.record)}>{conflict.title}</Link>
      </h2>
      {conflict.field ? <OfField {...props} /> : <Unfielded {...props} />}
      {whose !== '' && !gone && (
        <>
          <p className="whose">
            <b>It is {whose} to settle.</b>
          </p>
          <p className="hints soft fine">
            <kbd>j</kbd> go to the next · <kbd>o</kbd> open the record
          </p>
        </>
      )}
      {settle.isSurprised && !choices.hasNew && !settle.hasMore && (
        <p className="notice" role="alert">
          {conflict.field
            ? 'Nothing is saved yet: another value had just arrived. It stands with the others now; choose once more.'
            : 'Nothing is saved yet: more had just come in. It is listed now; choose once more.'}
        </p>
      )}
      {settle.error && (
        <p className="notice" role="alert">
          Not saved: {sentence(settle.error)}
        </p>
      )}
    </article>
  );
}

/** Everything that stands in a field. What arrives goes to the very end, so that nothing moves that is about to be pressed. */
function OfField(props: Props) {
  const { conflict, choices, gone, whose } = props;
  const info = useQuery(LedgerService.method.schema, {}).data?.kinds.find((kind) => kind.name === conflict.kind);
  const isProse = info?.fields.find((one) => one.name === conflict.field?.name)?.prose ?? false;
  const known = choices.all.filter((one) => !one.isNew);
  const standing = known.filter((one) => one.writers.length > 0).length;
  return (
    <>
      <p className="about" role="status">
        <b>{conflict.field && labelOf(conflict.field)}</b>{' '}
        {gone ? '✓ is settled: nothing is left to do here' : `stands there in ${standing} ways`}
        {choices.hasNew && !gone && <span className="just"> ▲ another value just arrived: it stands below</span>}
      </p>
      {whose === '' ? <Settling {...props} known={known} isProse={isProse} /> : <Foreign {...props} />}
    </>
  );
}

function Settling({ isProse, ...props }: Props & { known: readonly Choice[]; isProse: boolean }) {
  return (
    <>
      {isProse ? <ProseField {...props} /> : <Unmerged {...props} />}
      {props.choices.hasNew && !props.gone && <Arrived {...props} />}
    </>
  );
}

function Arrived({ choices, settle }: Props) {
  return (
    <section className="arrivals">
      <h3>▲ Just arrived</h3>
      <ol className="choices">
        {choices.all.map((one, i) => one.isNew && <ChoiceButton key={one.text} choice={one} number={i + 1} onChoose={settle.choose} />)}
      </ol>
    </section>
  );
}
