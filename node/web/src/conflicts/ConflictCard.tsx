import { Link } from '@tanstack/react-router';
import type { RefObject } from 'react';
import type { Conflict } from '../gen/plumbline/v1/ledger_pb';
import { plainName } from '../parts/words';
import { sentence } from '../transport';
import { useDraft } from '../value/useDraft';
import { Origin } from '../value/ValueView';
import { Compared } from './Compared';
import type { Choice } from './choices';
import { identify } from './identify';
import type { useSettle } from './useSettle';

interface Props {
  conflict: Conflict;
  choices: readonly Choice[];
  /** Set when it isn't in conflict any more. */
  gone: boolean;
  field: RefObject<HTMLTextAreaElement | null>;
  settle: ReturnType<typeof useSettle>;
}

/** One conflict: what differs, who wrote which, and what to press. The only way in which the page shows a conflict. */
export function ConflictCard({ conflict, choices, gone, field, settle }: Props) {
  const standing = choices.filter((one) => one.writers.length > 0).length;
  return (
    <article className="card" aria-labelledby="card-title">
      <p className="soft">{plainName(conflict.kind)}</p>
      <h2 id="card-title">
        {conflict.kind === 'prospect' ? (
          <Link to="/prospects/$id" params={{ id: conflict.record }}>
            {conflict.title}
          </Link>
        ) : (
          conflict.title
        )}
      </h2>
      {conflict.field ? (
        <>
          <p className="about">
            <b>{conflict.field.label || plainName(conflict.field.name)}</b> stands there in {standing} ways
          </p>
          <ol className="choices">
            {choices.map((one, i) => (
              <li key={one.text}>
                <button type="button" className="choice" disabled={gone || one.writers.length === 0} onClick={() => settle.choose(i + 1)}>
                  <kbd>{i + 1}</kbd>
                  <span className="choice-text">
                    <Compared text={one.text} other={choices[i === 0 ? 1 : 0]?.text} />
                  </span>
                  {one.isNew && <span className="just">▲ just arrived</span>}
                  {one.writers.length === 0 && <span className="just">replaced meanwhile</span>}
                  <span className="choice-origins">
                    {one.writers.map((writer) => (
                      <Origin key={writer.id} writers={[writer]} exact />
                    ))}
                  </span>
                </button>
              </li>
            ))}
          </ol>
          {!gone && <Another about={identify(conflict)} field={field} onWrite={settle.write} />}
          {!gone && <Hints most={choices.length} />}
        </>
      ) : (
        <Unfielded conflict={conflict} gone={gone} settle={settle} />
      )}
      {gone && <p className="notice">It is settled. Nothing is left to do here.</p>}
      {settle.error && (
        <p className="notice" role="alert">
          Not saved: {sentence(settle.error)}
        </p>
      )}
    </article>
  );
}

/** A value that nobody wrote yet. */
function Another({ about, field, onWrite }: { about: string; field: Props['field']; onWrite: (text: string) => void }) {
  const [text, setText] = useDraft(about);
  const save = () => {
    if (text.trim() === '') return;
    onWrite(text.trim());
    setText('');
  };
  return (
    <div className="another">
      <textarea
        ref={field}
        rows={2}
        aria-label="Another value"
        placeholder="another value"
        value={text}
        onChange={(event) => setText(event.target.value)}
        onKeyDown={(event) => {
          if (event.key === 'Escape') event.currentTarget.blur();
          else if (event.key === 'Enter' && !event.shiftKey) save();
          else return;
          event.preventDefault();
        }}
      />
      <button type="button" disabled={text.trim() === ''} onClick={save}>
        Save
      </button>
    </div>
  );
}

/** The keys, where the hands need them. */
function Hints({ most }: { most: number }) {
  return (
    <p className="hints soft fine">
      <kbd>1</kbd> to <kbd>{Math.min(most, 9)}</kbd> keep that value · <kbd>e</kbd> write another · <kbd>j</kbd> leave it for later ·{' '}
      <kbd>o</kbd> open the record
    </p>
  );
}

/** What isn't about a field: a retirement in dispute, or two records that were joined and kept apart. */
function Unfielded({ conflict, gone, settle }: { conflict: Conflict; gone: boolean; settle: Props['settle'] }) {
  const isTorn = conflict.about === 'same';
  const answers = isTorn
    ? ['They are one: join them', `They are two: take ${conflict.otherTitle} out`]
    : ['It stays', 'Retire it, as it is now'];
  return (
    <>
      <p className="about">
        {isTorn ? (
          <>
            <b>{conflict.title}</b> and <b>{conflict.otherTitle}</b> were said to be two, but others joined both to the same records. Until
            it is settled, they are shown as one.
          </>
        ) : (
          'Somebody retired this record without having read everything on it. Until it is settled, it stays in sight.'
        )}
      </p>
      <ol className="choices">
        {answers.map((text, i) => (
          <li key={text}>
            <button type="button" className="choice" disabled={gone} onClick={() => settle.choose(i + 1)}>
              <kbd>{i + 1}</kbd>
              <span className="choice-text">{text}</span>
            </button>
          </li>
        ))}
      </ol>
    </>
  );
}
