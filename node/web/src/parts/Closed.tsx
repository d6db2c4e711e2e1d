import { useEffect } from 'react';
import { type Entry, onEntered } from '../session';

/** What a browser sees that isn't let in: what to do, and nothing of the staff. */
export function Closed({ why, onOpen }: { why: Exclude<Entry, 'open'>; onOpen: () => void }) {
  useEffect(() => onEntered(onOpen), [onOpen]);
  return (
    <main className="closed">
      <h1>{why === 'used' ? 'This address was used already' : 'This browser isn’t let in'}</h1>
      <p>
        {why === 'used'
          ? 'An address that opens Plumbline works once, so that it is of no use to anybody who finds it.'
          : 'Plumbline opens in a browser by an address that works once.'}{' '}
        Type this on the laptop, and this page goes on by itself:
      </p>
      <p>
        <code>plumbline open</code>
      </p>
    </main>
  );
}
