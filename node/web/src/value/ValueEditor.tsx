import { useMutation } from '@connectrpc/connect-query';
import { type KeyboardEvent, type RefObject, useEffect, useId, useRef, useState } from 'react';
import { type FieldInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Field } from '../gen/plumbline/v1/record_pb';
import { sentence } from '../transport';
import { Meanwhile } from './Meanwhile';
import { draftOf, isOther, overOf, useDraft } from './useDraft';

interface Props {
  record: string;
  info: FieldInfo;
  /** The field as it stands now, which may change while one types. */
  field: Field | undefined;
  onDone: (saved: boolean) => void;
}

/**
 * Writes a field. What is typed is kept until it is saved or dropped. Only values that were on screen are replaced: where
 * another one came to stand while somebody typed, both are shown and one is chosen before anything is saved.
 */
export function ValueEditor({ record, info, field, onDone }: Props) {
  const { draft, type, drop } = useDraft(draftOf(record, info.name));
  const write = useMutation(LedgerService.method.write);
  const settle = useMutation(LedgerService.method.settle);
  const input = useRef<HTMLInputElement & HTMLTextAreaElement>(null);
  const choice = useRef<HTMLDivElement>(null);
  const id = useId();

  const shown = field?.values[0]?.cleared ? '' : (field?.values[0]?.text ?? '');
  const text = draft?.text ?? shown;
  const isThere = text.trim() === shown && !field?.conflict;
  const isChanged = draft !== undefined && !isThere && (field?.conflict || isOther(draft.over, field));
  const error = write.error ?? settle.error;
  const change = (next: string) => {
    if (next === shown && !isChanged) drop();
    else type(next, draft?.over ?? overOf(field));
  };
  const done = (saved: boolean) => {
    drop();
    onDone(saved);
  };
  const replace = () => {
    const value = text.trim();
    const seen = field?.values.map((one) => one.id) ?? [];
    const answer = value === '' ? { clear: true } : { text: value };
    const onSuccess = () => done(true);
    if (field?.conflict) settle.mutate({ record, field: info.name, seen, ...answer }, { onSuccess });
    else if (isThere) done(draft !== undefined); // by an answer that was lost, or by somebody else
    else write.mutate({ writes: [{ record, sets: [{ field: info.name, seen, ...answer }] }] }, { onSuccess });
  };
  const save = () => (isChanged ? choice.current?.focus() : replace());
  const press = (event: KeyboardEvent) => {
    if (event.key === 'Escape') onDone(false);
    else if (event.key === 'Enter' && !event.shiftKey) save();
    else return;
    event.preventDefault();
    event.stopPropagation();
  };

  return (
    <div className="editor">
      <div className="editor-line">
        <Typed
          info={info}
          ref={input}
          text={text}
          isBegun={draft !== undefined}
          describedBy={`${id}said`}
          isSaving={write.isPending || settle.isPending}
          onChange={change}
          onKeyDown={press}
        />
        <button type="button" className="main" onClick={save}>
          Save
        </button>
        <button type="button" onClick={() => onDone(false)}>
          {draft ? 'Later' : 'Leave it'}
        </button>
        {draft && (
          <button type="button" onClick={() => done(false)}>
            Drop it
          </button>
        )}
      </div>
      <div id={`${id}said`}>
        {isChanged && (
          <Meanwhile
            ref={choice}
            about={draftOf(record, info.name)}
            isProse={info.prose}
            mine={text}
            over={draft.over}
            field={field}
            onMine={replace}
            onTheirs={() => done(false)}
            onText={(merged) => {
              type(merged, overOf(field));
              input.current?.focus();
            }}
            onBack={() => input.current?.focus()}
          />
        )}
        {error && (
          <p className="notice" role="alert">
            Not saved: {sentence(error)}
          </p>
        )}
      </div>
    </div>
  );
}

interface TypedProps {
  info: FieldInfo;
  ref: RefObject<(HTMLInputElement & HTMLTextAreaElement) | null>;
  text: string;
  /** Something was typed before. */
  isBegun: boolean;
  describedBy: string;
  isSaving: boolean;
  onChange: (text: string) => void;
  onKeyDown: (event: KeyboardEvent) => void;
}

/** Where one types: a line, or as many as the text takes. */
function Typed({ info, ref, text, isBegun, describedBy, isSaving, onChange, onKeyDown }: TypedProps) {
  const id = useId();
  // A word is typed anew, a text or what was half typed is gone on with. Only at first: later one comes back to one's place.
  const [isAnew] = useState(!info.prose && !isBegun);
  useEffect(() => {
    const { current } = ref;
    if (isAnew) current?.select();
    else current?.setSelectionRange(current.value.length, current.value.length);
  }, [ref, isAnew]);
  const field = {
    ref,
    autoFocus: true,
    'aria-label': info.label || info.name,
    'aria-describedby': describedBy,
    placeholder: info.help,
    value: text,
    readOnly: isSaving,
    onChange: (event: { target: { value: string } }) => onChange(event.target.value),
    onKeyDown,
  };
  if (info.prose) return <textarea {...field} rows={Math.min(12, Math.max(3, Math.ceil(text.length / 70) + 1))} />;
  return (
    <>
      <input {...field} list={info.choices.length > 0 ? id : undefined} />
      <datalist id={id}>
        {info.choices.map((choice) => (
          <option key={choice} value={choice} />
        ))}
      </datalist>
    </>
  );
}
