import { useQuery } from '@connectrpc/connect-query';
import { type KeyboardEvent, useId, useState } from 'react';
import { Dialog, Modal, ModalOverlay } from 'react-aria-components';
import { LedgerService, type Row } from '../gen/plumbline/v1/ledger_pb';
import { everythingBound } from './bound';
import { type Action, type Key, keymap, keyName } from './keymap';
import './palette.css';

interface Props {
  isOpen: boolean;
  onChange: (open: boolean) => void;
  onProspect: (id: string) => void;
}

interface Item {
  id: string;
  text: string;
  aside: string;
  run: () => void;
}

/** Prospects and commands in one list: type a few letters of either, Enter takes the first. */
export function Palette(props: Props) {
  return (
    <ModalOverlay className="veil" isOpen={props.isOpen} onOpenChange={props.onChange} isDismissable>
      <Modal className="palette">
        <Dialog aria-label="Go to">{props.isOpen && <Choice {...props} />}</Dialog>
      </Modal>
    </ModalOverlay>
  );
}

function Choice({ onChange, onProspect }: Props) {
  const [text, setText] = useState('');
  const [at, setAt] = useState(0);
  const id = useId();
  const items = [...useProspects(text, onProspect), ...commands(text)];
  const take = (item: Item | undefined) => {
    if (!item) return;
    onChange(false);
    item.run();
  };
  const press = (event: KeyboardEvent) => {
    if (event.key === 'ArrowDown') setAt(Math.min(at + 1, items.length - 1));
    else if (event.key === 'ArrowUp') setAt(Math.max(at - 1, 0));
    else if (event.key === 'Enter') take(items[at]);
    else return;
    event.preventDefault();
  };
  return (
    <>
      <input
        autoFocus
        role="combobox"
        aria-label="Go to a prospect or do something"
        aria-expanded={items.length > 0}
        aria-controls={`${id}list`}
        aria-activedescendant={items.length > 0 ? `${id}${at}` : undefined}
        placeholder="a prospect, or what to do"
        value={text}
        onChange={(event) => {
          setText(event.target.value);
          setAt(0);
        }}
        onKeyDown={press}
      />
      <ul id={`${id}list`} role="listbox" aria-label="Prospects and commands">
        {items.map((item, i) => (
          <li key={item.id} id={`${id}${i}`} role="option" aria-selected={i === at} onMouseDown={() => take(item)}>
            <span>{item.text}</span>
            <span className="soft fine">{item.aside}</span>
          </li>
        ))}
      </ul>
    </>
  );
}

const most = 8;
/** As many are looked through for those whose name it is: a school's name finds a whole team. */
const looked = 60;

function useProspects(text: string, open: (id: string) => void): Item[] {
  const search = text.trim();
  const input = { kind: 'prospect', search, columns: ['position', 'school'], limit: looked };
  const found = useQuery(LedgerService.method.list, input, { enabled: search !== '' }).data?.rows ?? [];
  const isNamed = (row: Row) => row.title.toLowerCase().includes(search.toLowerCase());
  const named = [...found.filter(isNamed), ...found.filter((row) => !isNamed(row))];
  return named.slice(0, most).map((row) => ({
    id: row.id,
    text: row.title,
    aside: row.texts.filter((one) => one !== '').join(', '),
    run: () => open(row.id),
  }));
}

/** Keys that stand for a movement or a number say nothing in a list. */
const keyOf = (action: string): Key => keymap[action as Action];
const isCommand = (action: string) => keyOf(action).command ?? true;

/** What can be done here, then what can be done everywhere. */
function commands(text: string): Item[] {
  const words = text.toLowerCase().split(' ');
  const all = Object.entries(everythingBound()).filter(([action]) => isCommand(action));
  const isHere = ([action]: [string, unknown]) => keyOf(action).place !== 'everywhere';
  return [...all.filter(isHere), ...all.filter((one) => !isHere(one))].flatMap(([action, run]) => {
    const { does, keys } = keyOf(action);
    const key = keys[0] ?? '';
    if (!words.every((word) => does.toLowerCase().includes(word))) return [];
    return [{ id: action, text: does, aside: keyName(key), run: () => run(key) }];
  });
}
