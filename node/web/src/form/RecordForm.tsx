import { type FormEvent, type KeyboardEvent, useEffect, useRef, useState } from 'react';
import type { FieldInfo, KindInfo } from '../gen/plumbline/v1/ledger_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { useSay } from '../parts/Said';
import { plainName } from '../parts/words';
import { fieldOf } from '../prospect/fields';
import { ValueView } from '../value/ValueView';
import type { Draft } from './draft';
import './form.css';
import { FormField } from './FormField';
import { Keyed } from './Keyed';
import { useForm } from './useForm';
import type { Offered } from './words';

interface Props {
  kind: KindInfo;
  about: string;
  title: string;
  /** The record that is changed, as it stands now; none for a new one. */
  record?: Record | undefined;
  fixed?: Draft['typed'];
  given?: Draft['typed'] | undefined;
  /** Fields that have another way: filing, or what the place gives. */
  without?: readonly string[];
  /** What a reference may be, where the place knows it better than a search. */
  among?: { readonly [field: string]: readonly Offered[] };
  /** The position of whom it is about, for the factors that go for it. */
  position?: string;
  /** It is all of a page, whose heading says what it is. */
  isAlone?: boolean;
  /** The field where typing begins. */
  first?: string;
  onSaved: (id: string, typed: Draft['typed']) => void;
  onLeave: () => void;
}

const none: Draft['typed'] = {};

/** Any record as a form, by its schema. Enter saves, in prose with Ctrl; Esc leaves and keeps what was typed. */
export function RecordForm(props: Props) {
  const { kind, record, title, fixed = none, without = [] } = props;
  const form = useForm({ kind, about: props.about, record, fixed, given: props.given });
  const say = useSay();
  const [help, setHelp] = useState('');
  const place = useRef<HTMLFormElement>(null);
  const first = props.first ?? '';
  useEffect(() => focusField(place.current, first), [first, props.about]);

  const disputed = (info: FieldInfo) => (record && fieldOf(record, info.name)?.conflict) ?? false;
  const isShown = (info: FieldInfo) =>
    !(info.name in fixed) && !without.includes(info.name) && (!disputed(info) || form.isTyped(info.name)) && isMeant(info, form.typedIn);
  const fields = kind.fields.filter(isShown).sort((a, b) => room(a) - room(b));
  const save = async () => {
    const typed = Object.fromEntries(kind.fields.map((info) => [info.name, form.typedIn(info.name)]));
    const { id, wrong } = await form.save();
    if (wrong) focusField(place.current, wrong);
    if (id === undefined) return;
    say(`✓ saved: ${plainName(kind.name)}`);
    props.onSaved(id, typed);
  };
  const submit = (event: FormEvent) => {
    event.preventDefault();
    void save();
  };
  const press = (event: KeyboardEvent) => {
    if (event.key === 'Escape') props.onLeave();
    else if (event.key === 'Enter' && event.repeat && !isText(event.target)) return event.preventDefault(); // held down: the next form isn't meant
    else if (event.key === 'Enter' && (event.ctrlKey || event.metaKey)) void save();
    else return;
    event.preventDefault();
    event.stopPropagation();
  };
  const what = form.typedIn('what').text || (fixed.what?.text ?? '');
  return (
    <form ref={place} className="record-form panel" aria-label={title} onSubmit={submit} onKeyDown={press} noValidate>
      {!props.isAlone && <h3>{title}</h3>}
      <div className="form-fields" onFocus={(event) => setHelp(helpAt(kind, event.target.id))}>
        {fields.map((info) =>
          info.keyed ? (
            <fieldset key={info.name} className="form-field wide">
              <legend>{info.label}</legend>
              <Keyed
                info={info}
                used={usedKeys(record, info.name)}
                typedIn={form.typedIn}
                onType={form.type}
                onLeave={form.leave}
                wrongAt={form.wrongAt}
                position={props.position ?? ''}
              />
            </fieldset>
          ) : (
            <FormField
              key={info.name}
              info={info}
              typed={form.typedIn(info.name)}
              onType={(typed) => form.type(info.name, typed)}
              onLeave={() => form.leave(info.name)}
              wrong={form.wrongAt(info.name)}
              readAs={form.readAs(info.name)}
              among={props.among?.[info.name]}
              isTimed={timed.includes(what)}
            />
          ),
        )}
      </div>
      <p className="soft fine help">{help}</p>
      {kind.fields.filter(disputed).map((info) => (
        <p key={info.name} className="notice">
          {info.label} is in conflict and has to be settled first, on the page Conflicts.
          {form.isTyped(info.name) && ' What you typed for it is not saved with the rest: it stays here until then.'}
        </p>
      ))}
      {record && form.overtaken.map((name) => <Overtaken key={name} record={record} name={name} />)}
      {form.trouble && (
        <p className="notice" role="alert">
          Not saved: {form.trouble}
        </p>
      )}
      <p className="answers">
        <button type="submit" className="main" disabled={form.isSaving}>
          Save
        </button>
        <button type="button" onClick={props.onLeave}>
          {form.isBegun ? 'Leave it for later' : 'Leave it'}
        </button>
        {form.isBegun && (
          <button type="button" onClick={() => (form.drop(), props.onLeave())}>
            Throw away what was typed
          </button>
        )}
        <span className="soft fine hint">
          <kbd>Enter</kbd> saves, in a text <kbd>Ctrl</kbd> <kbd>Enter</kbd> · <kbd>Esc</kbd> leaves it; what was typed stays
        </span>
      </p>
    </form>
  );
}

/** Where Enter begins a line. */
const isText = (target: EventTarget) => target instanceof HTMLTextAreaElement;

function Overtaken({ record, name }: { record: Record; name: string }) {
  const field = fieldOf(record, name);
  return (
    <p className="notice" role="alert">
      {field?.label || plainName(name)} changed while you were typing. Now it is {field ? <ValueView field={field} /> : 'empty'}; saving once more
      replaces what you see here.
    </p>
  );
}

/** What to type in the field that has the focus, in one place, so that nothing moves. */
function helpAt(kind: KindInfo, id: string): string {
  const info = kind.fields.find((one) => `f-${one.name}` === id || id.startsWith(`f-${one.name}.`));
  return info?.help ? `${info.label}: ${info.help}` : '';
}

/** What takes a line of its own comes below what doesn't: prose last. */
function room(info: FieldInfo): number {
  if (info.keyed) return 1;
  if (info.prose) return 3;
  return info.type.startsWith('list of') ? 2 : 0;
}

/** Only what is run against a watch is timed by hand or electronically. */
const timed = ['forty', 'ten_split', 'twenty_split', 'shuttle', 'three_cone'];

/** A pass has no run scheme and a run no pass set; what holds something already stays in sight. */
function isMeant(info: FieldInfo, typedIn: (field: string) => { text: string }): boolean {
  const play = typedIn('play').text.toLowerCase();
  const other: { [field: string]: string } = { pass_set: 'run', assignment: 'pass', scheme: 'pass' };
  return other[info.name] !== play || play === '' || typedIn(info.name).text !== '';
}

function usedKeys(record: Record | undefined, name: string): string[] {
  const keys = (record?.fields ?? []).filter((field) => field.name.startsWith(`${name}.`));
  return keys.map((field) => field.name.slice(name.length + 1));
}

/** Goes to a field, or to the first one. */
function focusField(form: HTMLFormElement | null, name: string) {
  const field = name && form?.querySelector<HTMLElement>(`#${CSS.escape(`f-${name}`)}`);
  const to = field || form?.querySelector<HTMLElement>('input, textarea, select');
  to?.focus();
  form?.scrollIntoView?.({ block: 'nearest' });
}
