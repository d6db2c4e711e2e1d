import type { FieldInfo } from '../gen/plumbline/v1/ledger_pb';
import { plainName } from '../parts/words';
import { Choice, type FieldProps } from './Choice';
import { Day } from './Day';
import type { Typed } from './draft';
import { Reading } from './Reading';
import { Reference, References } from './Reference';
import { type Offered, wordsFor } from './words';

interface Props {
  info: FieldInfo;
  typed: Typed;
  onType: (typed: Typed) => void;
  onLeave: () => void;
  wrong: string;
  /** How the node reads what was typed. */
  readAs: string;
  among?: readonly Offered[] | undefined;
  isTimed: boolean;
}

/** A field of any type: its name, where it is typed, and below what is wrong or how it is read. */
export function FormField(props: Props) {
  const { info, wrong, readAs, typed } = props;
  const id = `f-${info.name}`;
  const says = readAs !== '' && typed.text !== '' && !info.prose && !typed.ids && readAs !== typed.text && plainName(readAs) !== typed.text;
  return (
    <div className={`form-field ${shapeOf(info)}`}>
      <label htmlFor={id}>
        {info.label || plainName(info.name)}
        {info.required && <span className="soft"> *</span>}
      </label>
      <Input {...props} id={id} />
      <p id={`${id}-said`} className="fine said" role={wrong ? 'alert' : undefined}>
        {wrong ? <span className="differs">✕ {wrong}</span> : says && <span className="soft">reads as {plainName(readAs)}</span>}
      </p>
    </div>
  );
}

/** How much room a field takes. */
function shapeOf(info: FieldInfo): string {
  if (info.prose) return 'prose';
  if (info.type.startsWith('list of')) return 'wide';
  if (info.type === 'reading' || info.refersTo !== '') return 'broad';
  return 'narrow';
}

const isRoomy = (info: FieldInfo) => info.prose || info.type.startsWith('list of');

function Input({ id, info, typed, onType, onLeave, wrong, among, isTimed }: Props & { id: string }) {
  const field: FieldProps = {
    id,
    label: info.label,
    value: typed.text,
    onChange: (text) => onType({ text }),
    onLeave,
    placeholder: isRoomy(info) ? info.help : '',
    isWrong: wrong !== '',
    describedBy: `${id}-said`,
  };
  const isList = info.type.startsWith('list of');
  if (info.type === 'reading') return <Reading {...field} typed={typed} onType={onType} isTimed={isTimed} />;
  if (info.refersTo !== '' && isList) return <References {...field} kind={info.refersTo} typed={typed} onType={onType} among={among} />;
  if (info.refersTo !== '') return <Reference {...field} kind={info.refersTo} typed={typed} onType={onType} among={among} />;
  if (info.type === 'date' || info.type === 'filed') return <Day {...field} />;
  if (info.choices.length > 0 && isList) return <Words info={info} field={field} />;
  if (info.choices.length > 0) return <Word info={info} field={field} />;
  return <Text field={field} isProse={info.prose} isNumber={info.type === 'number'} />;
}

function Word({ info, field }: { info: FieldInfo; field: FieldProps }) {
  const value = plainName(field.value);
  const { offered, isSure } = wordsFor(info, info.choices.includes(field.value) ? '' : value);
  return <Choice {...field} value={value} offered={offered} takesFirst={isSure} onTake={(item) => field.onChange(item.id)} />;
}

/** Several words with commas between them: the last one is being typed. */
function Words({ info, field }: { info: FieldInfo; field: FieldProps }) {
  const cut = field.value.lastIndexOf(',') + 1;
  const { offered, isSure } = wordsFor(info, field.value.slice(cut));
  const before = field.value.slice(0, cut);
  return <Choice {...field} offered={offered} takesFirst={isSure} onTake={(item) => field.onChange(`${before}${before && ' '}${item.id}`)} />;
}

function Text({ field, isProse, isNumber }: { field: FieldProps; isProse: boolean; isNumber: boolean }) {
  const shared = {
    id: field.id,
    autoComplete: 'off',
    'aria-invalid': field.isWrong,
    'aria-describedby': field.describedBy,
    placeholder: field.placeholder,
    value: field.value,
    onBlur: field.onLeave,
  };
  if (isProse) return <textarea {...shared} rows={2} spellCheck onChange={(event) => field.onChange(event.target.value)} />;
  return (
    <input
      {...shared}
      inputMode={isNumber ? 'numeric' : undefined}
      spellCheck={false}
      onChange={(event) => field.onChange(event.target.value)}
      onFocus={(event) => event.target.select()}
    />
  );
}
