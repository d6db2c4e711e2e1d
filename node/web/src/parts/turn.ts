/**
 * Brings what the reader asked for into view and gives it the focus, so that the next key and a screen reader go on from
 * there.
 */
export function turnTo(element: HTMLElement | null) {
  element?.focus({ preventScroll: true });
  bringIntoView(element, 'start');
}

/** Scrolls to it, as far as needed or until it begins above; at once for whoever wants less motion. */
export function bringIntoView(element: Element | null, block: 'nearest' | 'start') {
  const isCalm = matchMedia('(prefers-reduced-motion: reduce)').matches;
  element?.scrollIntoView({ block, behavior: isCalm ? 'auto' : 'smooth' });
}
