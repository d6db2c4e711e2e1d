import { type RefObject, useId, useState } from 'react';
import { Choice } from '../form/Choice';
import type { Offered } from '../form/words';
import type { TableColumn } from '../gen/plumbline/v1/ledger_pb';
import { count } from '../parts/words';
import type { Pairs } from './useTable';

const leftOut = '-';

interface Props {
  box: RefObject<HTMLDetailsElement | null>;
  columns: readonly TableColumn[];
  /** The fields that a column may hold. */
  fields: readonly string[];
  map: Pairs;
  onMap: (map: Pairs) => void;
  fill: Pairs;
  onFill: (fill: Pairs) => void;
}

const named = (columns: readonly TableColumn[]) => columns.filter((column) => column.head !== '');

/** The columns that hold no field, by their head or by what was said of them. */
export function unplaced(columns: readonly TableColumn[], map: Pairs): TableColumn[] {
  return named(columns).filter(({ head, field }) => field === '' && map[head] === undefined);
}

/** Which field each column holds, and what every row gets besides. */
export function Heads({ box, columns, fields, map, onMap, fill, onFill }: Props) {
  const open = unplaced(columns, map);
  const leaveOpen = () => onMap({ ...map, ...Object.fromEntries(open.map(({ head }) => [head, leftOut])) });
  return (
    <details ref={box} className="heads" open>
      <summary>Columns</summary>
      {open.length > 0 && (
        <p className="open-heads">
          <span className="differs">✕ {count(open.length, 'column')} without a field.</span> Give each one, or{' '}
          <button type="button" onClick={leaveOpen}>
            leave them all out
          </button>
        </p>
      )}
      <ul>
        {named(columns).map((column) => (
          <li key={column.head}>
            <Head
              column={column}
              fields={fields}
              field={map[column.head] ?? ''}
              onField={(field) => onMap(withPair(map, column.head, field))}
            />
          </li>
        ))}
      </ul>
      <Fill key={JSON.stringify(fill)} fields={fields} fill={fill} onFill={onFill} />
    </details>
  );
}

interface HeadProps {
  column: TableColumn;
  fields: readonly string[];
  field: string;
  onField: (field: string) => void;
}

function Head({ column, fields, field, onField }: HeadProps) {
  const [text, setText] = useState(field === leftOut ? '' : field);
  const id = useId();
  const isOut = field === leftOut;
  const isOpen = column.field === '' && field === '';
  const give = (name: string) => name.trim() !== field && onField(name.trim());
  return (
    <>
      <label htmlFor={id} className={isOut ? 'out' : ''}>
        <span className="unseen">Field for the column </span>
        <b>{column.head}</b>
        <span className="soft fine samples">{column.samples.join(' · ')}</span>
      </label>
      {isOut ? (
        <span className="soft">left out</span>
      ) : (
        <FieldName id={id} text={text} fields={fields} usual={column.field} isOpen={isOpen} onText={setText} onGive={give} />
      )}
      <label className="check">
        <input
          type="checkbox"
          aria-label={`Leave out the column ${column.head}`}
          checked={isOut}
          onChange={(event) => onField(event.target.checked ? leftOut : '')}
        />
        leave out
      </label>
    </>
  );
}

interface FieldNameProps {
  id: string;
  text: string;
  fields: readonly string[];
  /** The field that the head names by itself. */
  usual: string;
  isOpen: boolean;
  onText: (text: string) => void;
  onGive: (name: string) => void;
}

function FieldName({ id, text, fields, usual, isOpen, onText, onGive }: FieldNameProps) {
  return (
    <div onKeyDown={(event) => event.key === 'Enter' && (event.preventDefault(), onGive(text))}>
      <Choice
        id={id}
        label="field"
        value={text}
        placeholder={usual || 'which field?'}
        isWrong={isOpen}
        describedBy=""
        offered={offers(fields, text)}
        takesFirst={text !== '' && !fields.includes(text)}
        onChange={onText}
        onTake={(item) => {
          onText(item.id);
          onGive(item.id);
        }}
        onLeave={() => onGive(text)}
      />
    </div>
  );
}

function offers(fields: readonly string[], typed: string): Offered[] {
  const word = typed.trim().toLowerCase();
  const fit = fields.filter((name) => name.toLowerCase().includes(word));
  return fit.sort((a, b) => Number(b.startsWith(word)) - Number(a.startsWith(word))).map((name) => ({ id: name, text: name }));
}

/** One more field that every row gets, where the row has nothing of its own. */
function Fill({ fields, fill, onFill }: { fields: readonly string[]; fill: Pairs; onFill: (fill: Pairs) => void }) {
  const id = useId();
  const add = (form: HTMLFormElement) => {
    const data = new FormData(form);
    const [field, value] = [String(data.get('field')).trim(), String(data.get('value')).trim()];
    if (field !== '' && value !== '') onFill(withPair(fill, field, value));
  };
  return (
    <>
      {Object.entries(fill).map(([field, value]) => (
        <p key={field} className="filled">
          Every row without one gets <b>{field}</b>: {value}{' '}
          <button type="button" aria-label={`Don’t fill ${field}`} onClick={() => onFill(withPair(fill, field, ''))}>
            no
          </button>
        </p>
      ))}
      <form
        className="line"
        onSubmit={(event) => {
          event.preventDefault();
          add(event.currentTarget);
        }}
      >
        <datalist id={`${id}fields`}>
          {fields.map((name) => (
            <option key={name} value={name} />
          ))}
        </datalist>
        <input name="field" aria-label="Field that every row gets" list={`${id}fields`} placeholder="every row gets: a field" />
        <input name="value" aria-label="Its value" placeholder="its value" />
        <button type="submit">Fill in</button>
      </form>
    </>
  );
}

function withPair(pairs: Pairs, name: string, value: string): Pairs {
  const { [name]: _, ...others } = pairs;
  return value === '' ? others : { ...others, [name]: value };
}
