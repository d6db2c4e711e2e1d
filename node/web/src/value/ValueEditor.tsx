import { useMutation } from '@connectrpc/connect-query';
import { type KeyboardEvent, useId, useState } from 'react';
import { type FieldInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Field } from '../gen/plumbline/v1/record_pb';
import { sentence } from '../transport';
import { useDraft } from './useDraft';
import { ValueView } from './ValueView';

interface Props {
  record: string;
  info: FieldInfo;
  /** The field as it stands now, which may change while one types. */
  field: Field | undefined;
  onDone: (saved: boolean) => void;
}

const idsOf = (field: Field | undefined) => field?.values.map((value) => value.id) ?? [];

/**
 * Writes a field. What is typed is kept until it is saved or given up. Only values that were on screen are replaced: one that
 * arrives while somebody types is shown first.
 */
export function ValueEditor({ record, info, field, onDone }: Props) {
  const shown = field?.values[0]?.text ?? '';
  const [draft, setDraft] = useDraft(`${record}/${info.name}`);
  const [text, setText] = useState(draft || shown);
  const [seen, setSeen] = useState(() => idsOf(field));
  const [seenText] = useState(shown);
  const call = useMutation(LedgerService.method.write);
  const id = useId();

  const now = idsOf(field);
  const isChanged = now.join() !== seen.join();
  const type = (next: string) => {
    setText(next);
    setDraft(next);
  };
  const leave = (saved: boolean) => {
    setDraft('');
    onDone(saved);
  };
  const save = () => {
    const value = text.trim();
    if (isChanged) return setSeen(now); // they are on screen now; the next time it is meant
    if (value === shown) return leave(false);
    const set = { field: info.name, seen, ...(value === '' ? { clear: true } : { text: value }) };
    call.mutate({ writes: [{ record, sets: [set] }] }, { onSuccess: () => leave(true) });
  };
  const press = (event: KeyboardEvent) => {
    if (event.key === 'Escape') leave(false);
    else if (event.key === 'Enter' && !event.shiftKey) save();
    else return;
    event.preventDefault();
    event.stopPropagation();
  };

  return (
    <div className="editor">
      <div className="editor-line">
        <input
          autoFocus
          aria-label={info.label || info.name}
          aria-describedby={`${id}said`}
          list={info.choices.length > 0 ? `${id}choices` : undefined}
          placeholder={info.help}
          value={text}
          onChange={(event) => type(event.target.value)}
          onKeyDown={press}
          onFocus={(event) => event.target.select()}
        />
        <datalist id={`${id}choices`}>
          {info.choices.map((choice) => (
            <option key={choice} value={choice} />
          ))}
        </datalist>
        <button type="button" className="main" onClick={save}>
          Save
        </button>
        <button type="button" onClick={() => leave(false)}>
          Leave it
        </button>
      </div>
      <div id={`${id}said`} role="alert">
        {shown !== seenText && field && (
          <p className="notice">
            It changed while you were typing: it was <b>{seenText || 'empty'}</b>, now it is <ValueView field={field} />. Saving replaces
            what you see here.
          </p>
        )}
        {call.error && <p className="notice">Not saved: {sentence(call.error)}</p>}
      </div>
    </div>
  );
}
