import { useState } from 'react';
import type { Conflict } from '../gen/plumbline/v1/ledger_pb';
import type { Value } from '../gen/plumbline/v1/record_pb';
import { distinct } from '../value/distinct';
import { identify } from './identify';

/** A value that can be kept, under a number that stays its own while the conflict is shown. */
export interface Choice {
  text: string;
  /** Nobody's any more, if it was replaced meanwhile. */
  writers: readonly Value[];
  isNew: boolean;
}

interface Held {
  about: string;
  texts: readonly string[];
  first: number;
}

export interface Choices {
  all: readonly Choice[];
  /** Whether values arrived that the reader hasn't answered to yet. */
  hasNew: boolean;
  /** The reader was told of those that arrived: from then on they are choices like the others. */
  takeIn: () => void;
}

/** The values in the order in which they were first seen: one that arrives goes below, one that goes leaves its place. */
export function useChoices(conflict: Conflict | undefined): Choices {
  const [held, setHeld] = useState<Held>({ about: '', texts: [], first: 0 });
  const values = conflict?.field ? distinct(conflict.field) : [];
  const about = conflict ? identify(conflict) : '';
  const texts = values.map((one) => one.text);
  let now = held;
  if (held.about !== about) now = { about, texts, first: texts.length };
  else if (texts.some((text) => !held.texts.includes(text))) {
    now = { ...held, texts: [...held.texts, ...texts.filter((text) => !held.texts.includes(text))] };
  }
  if (now !== held) setHeld(now);
  const all = now.texts.map((text, i) => ({
    text,
    writers: values.find((one) => one.text === text)?.writers ?? [],
    isNew: i >= now.first,
  }));
  return {
    all,
    hasNew: all.some((one) => one.isNew && one.writers.length > 0),
    takeIn: () => setHeld({ ...now, first: now.texts.length }),
  };
}
