import { useEffect } from 'react';
import { type Entry, onEntered } from '../session';

type Why = Exclude<Entry, 'open'>;

const heads: Record<Why, string> = {
  used: 'This address doesn’t open any more',
  none: 'This browser isn’t let in',
  ended: 'This browser isn’t let in any more',
};

const reasons: Record<Why, string> = {
  used: 'An address that opens Plumbline works once, and until the node stops, so that it is of no use to anybody who finds it.',
  none: 'Plumbline opens in a browser by an address that works once.',
  ended: 'It was let out, on the laptop or because many others were let in since. What was typed here and not saved is kept.',
};

/** What a browser sees that isn't let in: what to do, and nothing of the staff. */
export function Closed({ why, onOpen }: { why: Why; onOpen: () => void }) {
  useEffect(() => onEntered(onOpen), [onOpen]);
  return (
    <main className="closed">
      <h1>{heads[why]}</h1>
      <p>{reasons[why]} Type this on the laptop, and this page goes on by itself:</p>
      <p>
        <code>plumbline open</code>
      </p>
      <p className="soft">
        If that opens another browser, type <code>plumbline open --print</code> and copy what it prints to this one.
      </p>
      {why === 'used' && (
        <p className="soft">
          If it wasn’t you who used it: <code>plumbline open --alone</code> lets every other browser out.
        </p>
      )}
    </main>
  );
}
