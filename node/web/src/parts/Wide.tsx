import type { ReactNode } from 'react';

/** What may be wider than the screen, as a table on a small one: it is moved sideways by itself, also from the keyboard. */
export function Wide({ of, children }: { of: string; children: ReactNode }) {
  return (
    <div className="wide" role="region" aria-label={of} tabIndex={0}>
      {children}
    </div>
  );
}
