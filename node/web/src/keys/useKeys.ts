import { useEffect, useRef } from 'react';
import { type Action, keymap } from './keymap';

export type Handlers = Partial<Record<Action, (key: string) => void>>;

/** How long the first of two keys waits for the second. */
const patience = 900;

/** Carries out what keys stand for, while the component is shown. Letters that are being typed are left alone. */
export function useKeys(handlers: Handlers): void {
  const current = useRef(handlers);
  useEffect(() => {
    current.current = handlers;
  });
  useEffect(() => {
    let before = '';
    let since = 0;
    const press = (event: KeyboardEvent) => {
      if (event.defaultPrevented || event.altKey) return;
      const held = event.ctrlKey || event.metaKey;
      if (!held && (isTyping(event.target) || isPressing(event))) return;
      const key = held ? `Ctrl+${event.key}` : event.key;
      const two = event.timeStamp - since < patience ? `${before} ${key}` : '';
      before = key;
      since = event.timeStamp;
      const found = find(current.current, two) ?? find(current.current, key);
      if (!found) return;
      if (found.key === two) before = '';
      event.preventDefault();
      found.run(event.key);
    };
    addEventListener('keydown', press);
    return () => removeEventListener('keydown', press);
  }, []);
}

function find(handlers: Handlers, key: string) {
  if (key === '') return undefined;
  for (const [action, run] of Object.entries(handlers)) {
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
  return target.closest('input, textarea, select, [contenteditable=true], [role=dialog]') !== null;
}
