// One live stream for all tabs of a browser. A browser keeps six connections to an address: a stream for each tab would
// hang the seventh. The tab that holds the lock reads the stream and tells the others; when it closes, or the browser puts
// it to sleep, the lock goes to another tab, which opens the stream anew. A tab may also hang, with the lock in its hands:
// the others ask now and then, and take the lock from one that is silent.

export interface Change {
  entries: number;
  stateHash: string;
  records: readonly string[];
  /** Too many records to name: everything may have changed. */
  many: boolean;
  peers: boolean;
}

export type Link = 'starting' | 'live' | 'away' | 'refused';

type Note = { kind: 'change'; change: Change } | { kind: 'link'; link: Link } | { kind: 'ask' };

export interface Sharing {
  open: (signal: AbortSignal) => AsyncIterable<Change>;
  isRefusal: (error: unknown) => boolean;
  locks: Pick<LockManager, 'request'>;
  channel: BroadcastChannel;
  pause: (milliseconds: number, signal: AbortSignal) => Promise<void>;
  onChange: (change: Change) => void;
  onLink: (link: Link) => void;
}

const lockName = 'plumbline-stream';
const firstPause = 250;
const longestPause = 5000;

export interface Following {
  /** Ends it. */
  stop: () => void;
  /** Takes the stream over if no tab has answered since the last time. Call it now and then while somebody looks. */
  check: () => void;
}

/** Follows the stream. */
export function follow(s: Sharing): Following {
  const ending = new AbortController();
  const { signal } = ending;
  let link: Link = 'starting';
  let leads = false;
  let isWaiting = false; // for an answer of the tab that leads

  const setLink = (next: Link) => {
    if (next === link) return;
    link = next;
    s.onLink(next);
  };
  const tell = (note: Note) => {
    if (!signal.aborted) s.channel.postMessage(note);
  };
  s.channel.onmessage = (event: MessageEvent<Note>) => {
    const note = event.data;
    if (note.kind !== 'ask') isWaiting = false;
    if (note.kind === 'ask') {
      if (leads) tell({ kind: 'link', link });
    } else if (note.kind === 'link') setLink(note.link);
    else s.onChange(note.change);
  };

  const lead = async (until: AbortSignal) => {
    leads = true;
    isWaiting = false;
    let hash = '';
    let wait = firstPause;
    while (!until.aborted) {
      let first = true;
      try {
        for await (const change of s.open(until)) {
          wait = firstPause;
          if (first) {
            setLink('live');
            tell({ kind: 'link', link });
          }
          // What changed while nobody listened isn't named; the hash tells whether anything did.
          const missed = first && change.stateHash !== hash;
          first = false;
          hash = change.stateHash;
          const told = missed ? { ...change, many: true } : change;
          s.onChange(told);
          tell({ kind: 'change', change: told });
        }
      } catch (error) {
        if (s.isRefusal(error)) {
          setLink('refused');
          tell({ kind: 'link', link });
          return;
        }
      }
      if (until.aborted) return;
      setLink('away');
      tell({ kind: 'link', link });
      await s.pause(wait, until).catch(() => undefined);
      wait = Math.min(wait * 2, longestPause);
    }
  };

  let turn = new AbortController();
  const queue = (steal: boolean) => {
    turn.abort();
    const mine = new AbortController();
    turn = mine;
    const until = AbortSignal.any([signal, mine.signal]);
    s.locks
      .request(lockName, steal ? { steal } : { signal: until }, () => lead(until))
      .catch(() => {
        if (until.aborted) return; // it ended while it waited
        leads = false; // it was taken by a tab to which this one seemed to hang
        queue(false);
      });
  };
  const ask = () => {
    isWaiting = true;
    tell({ kind: 'ask' });
  };

  ask();
  queue(false);
  return {
    stop: () => {
      leads = false;
      ending.abort();
      s.channel.onmessage = null;
    },
    check: () => {
      if (leads || signal.aborted) return;
      if (isWaiting) queue(true);
      ask();
    },
  };
}
