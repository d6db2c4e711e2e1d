import { useMutation } from '@connectrpc/connect-query';
import { Link } from '@tanstack/react-router';
import { type RefObject, useState } from 'react';
import { type Conflict, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { plainName } from '../parts/words';
import { sentence } from '../transport';
import { distinct } from '../value/distinct';
import { Origin } from '../value/ValueView';
import { identify } from './identify';
import { useDraft } from './useDraft';

/** What came of an attempt to settle. */
export interface Settled {
  text: string;
}

interface Props {
  conflict: Conflict;
  /** Set when it isn't in conflict any more. */
  gone: boolean;
  field: RefObject<HTMLTextAreaElement | null>;
  settle: ReturnType<typeof useSettle>;
}

/** Settles a conflict with all values that were on screen: the node refuses if another one came in between. */
export function useSettle(conflict: Conflict | undefined, onSettled: (settled: Settled) => void) {
  const call = useMutation(LedgerService.method.settle);
  const values = conflict?.field ? distinct(conflict.field) : [];
  const seen = conflict?.field?.values.map((value) => value.id) ?? [];
  const settle = (answer: { choose?: string; text?: string; clear?: boolean }, text: string) => {
    if (!conflict?.field) return;
    call.mutate({ record: conflict.record, field: conflict.field.name, seen, ...answer }, { onSuccess: () => onSettled({ text }) });
  };
  return {
    error: call.error,
    choose: (number: number) => {
      const value = values[number - 1];
      const id = value?.writers[0]?.id;
      if (value && id) settle(value.writers[0]?.cleared ? { clear: true } : { choose: id }, value.text);
    },
    write: (text: string) => settle({ text }, text),
  };
}

/** One conflict: what differs, who wrote which, and what to press. The only way in which the page shows a conflict. */
export function ConflictCard({ conflict, gone, field, settle }: Props) {
  const values = conflict.field ? distinct(conflict.field) : [];
  const [atFirst] = useState(() => new Set(values.map((one) => one.text)));
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
            <b>{conflict.field.label || plainName(conflict.field.name)}</b> stands there in {values.length} ways
          </p>
          <ol className="choices">
            {values.map((one, i) => (
              <li key={one.text}>
                <button type="button" className="choice" disabled={gone} onClick={() => settle.choose(i + 1)}>
                  <kbd>{i + 1}</kbd>
                  <span className="choice-text">{one.text}</span>
                  {!atFirst.has(one.text) && <span className="just">▲ just arrived</span>}
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
          {!gone && <Hints most={values.length} />}
        </>
      ) : (
        <Elsewhere conflict={conflict} />
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

/** What is settled in another way, which the command line has. */
function Elsewhere({ conflict }: { conflict: Conflict }) {
  const what =
    conflict.about === 'retirement'
      ? 'Somebody retired this record without having read everything on it. It stays until it is kept or retired again:'
      : 'These records were joined by one and kept apart by another:';
  return (
    <p className="about">
      {what} <code>{conflict.advice}</code>
    </p>
  );
}
