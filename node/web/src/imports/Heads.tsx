import { useQuery } from '@connectrpc/connect-query';
import { useId } from 'react';
import { type KindInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';

export type Pairs = { readonly [name: string]: string };

const leftOut = '-';

interface Props {
  kind: string;
  heads: readonly string[];
  /** Head to field; "-" leaves a column out. */
  map: Pairs;
  onMap: (map: Pairs) => void;
  /** Field to what every row gets. */
  fill: Pairs;
  onFill: (fill: Pairs) => void;
}

/** Which field each column holds, and what every row gets besides. */
export function Heads({ kind, heads, map, onMap, fill, onFill }: Props) {
  const kinds = useQuery(LedgerService.method.schema, {}).data?.kinds ?? [];
  const id = useId();
  const names = fieldsFor(kind, kinds);
  const known = heads.filter((head) => head !== '');
  return (
    <details className="heads" open>
      <summary>Columns</summary>
      <datalist id={`${id}fields`}>
        {names.map((name) => (
          <option key={name} value={name} />
        ))}
      </datalist>
      <ul>
        {known.map((head) => (
          <li key={head}>
            <Head
              head={head}
              fields={`${id}fields`}
              field={map[head] ?? ''}
              onField={(field) => onMap(withPair(map, head, field))}
            />
          </li>
        ))}
      </ul>
      <Fill key={JSON.stringify(fill)} fields={`${id}fields`} fill={fill} onFill={onFill} />
    </details>
  );
}

interface HeadProps {
  head: string;
  fields: string;
  field: string;
  onField: (field: string) => void;
}

function Head({ head, fields, field, onField }: HeadProps) {
  const isOut = field === leftOut;
  return (
    <>
      <b className={isOut ? 'out' : ''}>{head}</b>
      <input
        key={field}
        aria-label={`Field for the column ${head}`}
        list={fields}
        placeholder={isOut ? 'left out' : 'as it is named'}
        disabled={isOut}
        defaultValue={isOut ? '' : field}
        onBlur={(event) => event.target.value.trim() !== field && onField(event.target.value.trim())}
        onKeyDown={(event) => event.key === 'Enter' && event.currentTarget.blur()}
      />
      <label className="check">
        <input
          type="checkbox"
          aria-label={`Leave out the column ${head}`}
          checked={isOut}
          onChange={(event) => onField(event.target.checked ? leftOut : '')}
        />
        leave out
      </label>
    </>
  );
}

/** One more field that every row gets, where the row has nothing of its own. */
function Fill({ fields, fill, onFill }: { fields: string; fill: Pairs; onFill: (fill: Pairs) => void }) {
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
        <input name="field" aria-label="Field that every row gets" list={fields} placeholder="every row gets: a field" />
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

/** The names that columns of a kind's table may have: its own, and those that say whom a row is about. */
function fieldsFor(kind: string, kinds: readonly KindInfo[]): string[] {
  const of = (name: string) => kinds.find((one) => one.name === name)?.fields ?? [];
  const plain = (name: string) => of(name).filter((field) => field.refersTo === '' && !field.keyed).map((field) => field.name);
  const names = plain(kind);
  const measures = of('measurement').find((field) => field.name === 'what')?.choices ?? [];
  if (kind === 'prospect') names.push(...measures, 'source', 'timing', 'date');
  else if (kind !== 'game') names.push('list_id', 'name', 'school', 'class_year');
  if (kind === 'rep') names.push('game_date', 'home', 'away');
  return [...new Set(names)].sort();
}
