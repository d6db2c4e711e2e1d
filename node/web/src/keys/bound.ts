// What keys stand for at the moment. One listener for all: of two keys in a row the whole is looked for on the page and
// around it before the second one is taken for itself, so that "g c" never means "c".

import type { Action } from './keymap';
import { keymap } from './keymap';

export type Handlers = Partial<Record<Action, (key: string) => void>>;

interface Bound {
  current: Handlers;
}

const bound: Bound[] = [];

/** How long the first of two keys waits for the second, in milliseconds. */
const patience = 900;

let before = '';
let since = 0;

/** Everything that can be done now. */
export function everythingBound(): Handlers {
  return Object.assign({}, ...bound.map((one) => one.current)) as Handlers;
}

export function bind(handlers: Bound): () => void {
  if (bound.length === 0) addEventListener('keydown', press);
  bound.push(handlers);
  return () => {
    bound.splice(bound.indexOf(handlers), 1);
    if (bound.length === 0) removeEventListener('keydown', press);
  };
}

/** Carries out what a key stands for. Letters that are being typed are left alone. */
function press(event: KeyboardEvent) {
  if (event.defaultPrevented || event.altKey) return;
  const held = event.ctrlKey || event.metaKey;
  if (!held && (isTyping(event.target) || isPressing(event))) return;
  const key = held ? `Ctrl+${event.key}` : event.key;
  const two = event.timeStamp - since < patience ? `${before} ${key}` : '';
  before = key;
  since = event.timeStamp;
  const found = find(two) ?? find(key);
  if (!found) return;
  if (found.key === two) before = '';
  event.preventDefault();
  found.run(event.key);
}

function find(key: string) {
  if (key === '') return undefined;
  for (const [action, run] of Object.entries(everythingBound())) {
    const keys: readonly string[] = keymap[action as Action].keys;
    if (keys.includes(key)) return { key, run };
  }
  return undefined;
}

/** Links and buttons keep the keys that press them. */
function isPressing(event: KeyboardEvent): boolean {
  if (event.key !== 'Enter' && event.key !== ' ') return false;
  return event.target instanceof Element && event.target.closest('a, button') !== null;
}

/** Text fields and dialogs keep their keys. */
function isTyping(target: EventTarget | null): boolean {
  if (!(target instanceof Element)) return false;
  return target.closest('input, textarea, select, [contenteditable=true], [role=dialog], [role=alertdialog]') !== null;
}
