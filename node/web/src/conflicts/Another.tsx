import { Link } from '@tanstack/react-router';
import type { RefObject } from 'react';
import type { Field } from '../gen/plumbline/v1/record_pb';
import { placeOf } from '../parts/place';
import { overOf, useDraft } from '../value/useDraft';

interface Props {
  /** What the draft is about. */
  about: string;
  kind: string;
  record: string;
  gone: boolean;
  /** What stands there, for who goes on typing later. */
  over: Field | undefined;
  field: RefObject<HTMLTextAreaElement | null>;
  onWrite: (text: string, then: () => void) => void;
  /** What stands in the field until somebody types: the merged text. */
  proposal?: string | undefined;
  /** What to say in the field while it is empty. */
  placeholder?: string;
  rows?: number;
}

/** A value that nobody wrote yet, or the merged text. What was typed stays when the conflict is settled elsewhere. */
export function Another({ about, kind, record, gone, over, field, onWrite, proposal, placeholder = 'another value', rows = 2 }: Props) {
  const { draft, type, drop } = useDraft(about);
  const text = draft?.text ?? proposal ?? '';
  const isDone = (typed: string) => typed === (proposal ?? '');
  if (gone && !draft) return null;
  const save = () => text.trim() !== '' && onWrite(text.trim(), drop);
  return (
    <div className="another">
      <textarea
        ref={field}
        rows={rows}
        aria-label={proposal === undefined ? 'Another value' : 'The merged text'}
        placeholder={placeholder}
        value={text}
        readOnly={gone}
        onChange={(event) => (isDone(event.target.value) ? drop() : type(event.target.value, overOf(over)))}
        onKeyDown={(event) => {
          if (event.key === 'Escape') event.currentTarget.blur();
          else if (event.key === 'Enter' && !event.shiftKey && !gone) save();
          else return;
          event.preventDefault();
        }}
      />
      {gone ? (
        <p className="notice">
          It was settled before you saved this. Nothing of it is lost: go on with it where{' '}
          <Link {...placeOf(kind, record)}>the record</Link> is shown.
        </p>
      ) : (
        <span className="another-acts">
          <button type="button" className="main" disabled={text.trim() === ''} onClick={save}>
            Save
          </button>
          {proposal !== undefined && (
            <button type="button" disabled={!draft} onClick={drop}>
              Merge anew
            </button>
          )}
        </span>
      )}
    </div>
  );
}
