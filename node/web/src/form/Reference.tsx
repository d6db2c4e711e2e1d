import { useQuery } from '@connectrpc/connect-query';
import { useEffect, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { Choice, type FieldProps } from './Choice';
import type { Typed } from './draft';
import type { Offered } from './words';

type Props = Omit<FieldProps, 'value' | 'onChange'> & {
  kind: string;
  typed: Typed;
  onType: (typed: Typed) => void;
  /** What is offered instead of all records of the kind. */
  among?: readonly Offered[] | undefined;
};

const most = 12;
const pause = 120;

/** Another record, found by search as one types. */
export function Reference({ kind, typed, onType, among, ...field }: Props) {
  const [isLooking, setLooking] = useState(false);
  const isChosen = (typed.ids?.length ?? 0) > 0;
  const found = useFound(kind, isChosen ? '' : typed.text, isLooking && among === undefined);
  const offered = among ? fitting(among, isChosen ? '' : typed.text) : found;
  return (
    <Choice
      {...field}
      value={typed.text}
      onChange={(text) => onType({ text })}
      offered={offered}
      takesFirst={!isChosen}
      onTake={(item) => onType({ text: item.text, ids: [item.id] })}
      onOpen={() => setLooking(true)}
    />
  );
}

/** Several records, chosen one after the other. */
export function References({ kind, typed, onType, among, ...field }: Props) {
  const [text, setText] = useState('');
  const [isLooking, setLooking] = useState(false);
  const ids = typed.ids ?? typed.text.split(', ').filter((one) => one !== '');
  const [names, setNames] = useState<{ readonly [id: string]: string }>({});
  const nameOf = (id: string) => among?.find((item) => item.id === id)?.text ?? names[id] ?? id;
  const choose = (next: readonly string[]) => onType({ text: next.join(', '), ids: next });
  const found = useFound(kind, text, isLooking && among === undefined);
  const offered = (among ? fitting(among, text) : found).filter((item) => !ids.includes(item.id));
  return (
    <div className="chosen-field">
      {ids.length > 0 && (
        <ul className="chosen">
          {ids.map((id) => (
            <li key={id}>
              {nameOf(id)}
              <button type="button" aria-label={`Leave out ${nameOf(id)}`} onClick={() => choose(ids.filter((one) => one !== id))}>
                ✕
              </button>
            </li>
          ))}
        </ul>
      )}
      <Choice
        {...field}
        value={text}
        onChange={setText}
        onLeave={() => {
          setText('');
          field.onLeave();
        }}
        offered={offered}
        takesFirst
        onTake={(item) => {
          setNames({ ...names, [item.id]: item.text });
          choose([...ids, item.id]);
          setText('');
        }}
        onOpen={() => setLooking(true)}
      />
    </div>
  );
}

function fitting(among: readonly Offered[], typed: string): Offered[] {
  const words = typed.toLowerCase().split(/\s+/);
  return among.filter((item) => words.every((word) => `${item.text} ${item.aside ?? ''}`.toLowerCase().includes(word)));
}

/** What a search finds. Until the node has answered to what stands there, only what fits of its older answer. */
function useFound(kind: string, typed: string, isWanted: boolean): Offered[] {
  const [search, setSearch] = useState(typed);
  useEffect(() => {
    const timer = setTimeout(() => setSearch(typed), pause);
    return () => clearTimeout(timer);
  }, [typed]);
  const input = { kind, search: search.trim(), limit: most, textsOnly: true };
  const { data, isPlaceholderData } = useQuery(LedgerService.method.list, input, { enabled: isWanted, placeholderData: (before) => before });
  const offered = (data?.rows ?? []).map((row) => ({ id: row.id, text: row.title, aside: kind === 'prospect' ? row.texts.slice(1, 3).filter(Boolean).join(', ') : '' }));
  return search === typed && !isPlaceholderData ? offered : fitting(offered, typed);
}
