import { toJson } from '@bufbuild/protobuf';
import { useQuery } from '@connectrpc/connect-query';
import { ValueSchema } from '@bufbuild/protobuf/wkt';
import { useState } from 'react';
import { type FieldInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { plainName } from '../parts/words';
import type { Typed } from './draft';

interface Props {
  info: FieldInfo;
  /** The keys that have a value. */
  used: readonly string[];
  typedIn: (field: string) => Typed;
  onType: (field: string, typed: Typed) => void;
  onLeave: (field: string) => void;
  wrongAt: (field: string) => string;
  /** Of whom the values are: keys that don't go for his position are left out. */
  position: string;
}

/** What a key stands for: a trait that is graded, with what its grades look like. */
interface Key {
  name: string;
  help: string;
  anchors: { readonly [grade: string]: string };
  positions: readonly string[];
}

/** One value for each key: grades by factor, anchors by grade. */
export function Keyed({ info, used, typedIn, onType, onLeave, wrongAt, position }: Props) {
  const [added, setAdded] = useState<readonly string[]>([]);
  const [extra, setExtra] = useState('');
  const known = useKeysOf(info);
  const fits = (key: Key) => key.positions.length === 0 || position === '' || key.positions.includes(position) || used.includes(key.name);
  const names = [...new Set([...known.filter(fits).map((key) => key.name), ...used, ...added])];
  const isFree = info.keyedBy !== '' && known.length === 0;
  const add = () => {
    const key = extra.trim().toLowerCase().replaceAll(' ', '_');
    if (key !== '') setAdded([...added, key]);
    setExtra('');
  };
  return (
    <div className="keyed">
      {names.map((name) => (
        <OneKey
          key={name}
          field={`${info.name}.${name}`}
          about={known.find((key) => key.name === name)}
          isProse={info.prose}
          typed={typedIn(`${info.name}.${name}`)}
          onType={onType}
          onLeave={onLeave}
          wrong={wrongAt(`${info.name}.${name}`)}
        />
      ))}
      {isFree && (
        <div className="line">
          <input
            aria-label={`One more of ${info.label}`}
            placeholder="one more, such as hand use"
            value={extra}
            onChange={(event) => setExtra(event.target.value)}
            onKeyDown={(event) => {
              if (event.key !== 'Enter' || event.ctrlKey) return;
              event.preventDefault();
              event.stopPropagation();
              add();
            }}
          />
          <button type="button" onClick={add}>
            Add
          </button>
        </div>
      )}
    </div>
  );
}

interface OneProps {
  field: string;
  about: Key | undefined;
  isProse: boolean;
  typed: Typed;
  onType: Props['onType'];
  onLeave: Props['onLeave'];
  wrong: string;
}

function OneKey({ field, about, isProse, typed, onType, onLeave, wrong }: OneProps) {
  const anchor = about?.anchors[typed.text.trim()] ?? '';
  const shared = {
    id: `f-${field}`,
    'aria-invalid': wrong !== '',
    'aria-describedby': `f-${field}-said`,
    value: typed.text,
    onBlur: () => onLeave(field),
  };
  return (
    <div className={isProse ? 'key-line prose' : 'key-line'}>
      <label htmlFor={`f-${field}`} title={about?.help}>
        {plainName(field)}
      </label>
      {isProse ? (
        <textarea {...shared} rows={1} onChange={(event) => onType(field, { text: event.target.value })} />
      ) : (
        <input {...shared} inputMode="numeric" autoComplete="off" onChange={(event) => onType(field, { text: event.target.value })} />
      )}
      <span id={`f-${field}-said`} className="fine said">
        {wrong ? <span className="differs">✕ {wrong}</span> : <span className="soft">{anchor || about?.help}</span>}
      </span>
    </div>
  );
}

/** The keys that there are: the schema's own, or the names of records, whoever they hold for. */
function useKeysOf(info: FieldInfo): Key[] {
  const input = { kind: info.keyedBy, columns: ['name', 'help', 'anchors', 'positions'] };
  const rows = useQuery(LedgerService.method.list, input, { enabled: info.keyedBy !== '' }).data?.rows ?? [];
  if (info.keyedBy === '') return info.keys.map((name) => ({ name, help: '', anchors: {}, positions: [] }));
  return rows.flatMap((row) => {
    const [name, help, anchors, positions] = row.cells.map((cell) => toJson(ValueSchema, cell));
    if (typeof name !== 'string') return [];
    return [
      {
        name,
        help: typeof help === 'string' ? help : '',
        anchors: (anchors ?? {}) as Key['anchors'],
        positions: Array.isArray(positions) ? (positions as string[]) : [],
      },
    ];
  });
}
