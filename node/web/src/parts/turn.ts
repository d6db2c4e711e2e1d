/**
 * Brings what the reader asked for into view and gives it the focus, so that the next key and a screen reader go on from
 * there. It moves at once for whoever wants less motion.
 */
export function turnTo(element: HTMLElement | null) {
  if (!element) return;
  const isCalm = matchMedia('(prefers-reduced-motion: reduce)').matches;
  element.focus({ preventScroll: true });
  element.scrollIntoView({ block: 'start', behavior: isCalm ? 'auto' : 'smooth' });
}
