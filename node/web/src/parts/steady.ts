// Keeps what the reader is about to press where it is. Whatever changes above it, by what arrives or by what is settled
// elsewhere, its place on the screen stays: the part that scrolls is moved by as much, before anything is drawn.

/** What can be pressed; of what can't, the reader's place is what the pointer is on. */
const pressable = 'a, button, input, select, textarea, summary, label, [tabindex], [role=option]';

interface Held {
  element: Element;
  /** Its distance from the top of what scrolls it, which scrolling doesn't change. */
  place: number;
  path: string;
}

/** Room that was added to a part that scrolls, since it has an end where the reader's place would need none. */
interface Room {
  above: number;
  below: number;
}

/** Holds the reader's place in the page until the returned function is called. */
export function holdSteady(page: HTMLElement): () => void {
  let held: Held | undefined;
  const rooms = new Map<HTMLElement, Room>();

  const hold = (element: Element | null | undefined) => {
    const scroller = element && scrollerOf(element);
    held = element && scroller ? { element, place: placeOf(element), path: location.pathname + location.search } : undefined;
    // The browser would hold another place.
    page.toggleAttribute('data-held', held !== undefined);
  };
  const point = ({ target }: Event) => target instanceof Element && hold(target.closest(pressable) ?? target);
  const type = () => document.activeElement !== document.body && hold(document.activeElement);
  const scrolled = ({ target }: Event) => {
    if (target instanceof HTMLElement) giveBack(target, rooms);
    hold(held?.element);
  };
  const keep = () => {
    if (!held) return;
    const isElsewhere = held.path !== location.pathname + location.search;
    if (isElsewhere || !held.element.isConnected) {
      held = undefined;
      for (const scroller of rooms.keys()) release(scroller, rooms);
      return;
    }
    const scroller = scrollerOf(held.element);
    const moved = placeOf(held.element) - held.place;
    if (!scroller || Math.abs(moved) < 1) return;
    const wanted = topOf(held.element) - moved;
    shift(scroller, moved, rooms);
    // Parts scroll by whole pixels: what is left over counts with the next change, so that nothing creeps.
    held.place = placeOf(held.element) - (topOf(held.element) - wanted);
  };

  const changes = new MutationObserver(keep);
  changes.observe(page, { childList: true, subtree: true, characterData: true, attributeFilter: ['class', 'hidden', 'rows', 'open'] });
  const quietly = { capture: true, passive: true };
  const listeners = { pointermove: point, pointerdown: point, focusin: type, keydown: type, scroll: scrolled };
  for (const [name, listen] of Object.entries(listeners)) document.addEventListener(name, listen, quietly);
  return () => {
    changes.disconnect();
    for (const [name, listen] of Object.entries(listeners)) document.removeEventListener(name, listen, quietly);
  };
}

/** The part that scrolls an element up and down; undefined for what stands still, or lies above the page. */
function scrollerOf(element: Element): HTMLElement | undefined {
  for (let at = element.parentElement; at; at = at.parentElement) {
    if (/auto|scroll/.test(getComputedStyle(at).overflowY) && !isFull(at)) return at;
  }
  return undefined;
}

/** Whether the content ends where the part does: it grows with it, as what scrolls sideways only, or scrolls within itself. */
function isFull(scroller: HTMLElement): boolean {
  const end = contentEnd(scroller, { above: 0, below: 0 });
  return scroller.scrollHeight <= scroller.clientHeight && Math.abs(end - scroller.clientHeight) < 2;
}

const topOf = (element: Element) => element.getBoundingClientRect().top;

function placeOf(element: Element): number {
  let place = topOf(element);
  for (let at = element.parentElement; at; at = at.parentElement) place += at.scrollTop;
  return place;
}

function shift(scroller: HTMLElement, by: number, rooms: Map<HTMLElement, Room>) {
  const room = rooms.get(scroller) ?? { above: 0, below: 0 };
  const to = scroller.scrollTop + by;
  const end = contentEnd(scroller, room);
  rooms.set(scroller, { above: room.above + Math.max(0, -to), below: Math.max(room.below, scroller.clientHeight + Math.max(0, to) - end) });
  apply(scroller, rooms);
  scroller.scrollTop = Math.max(0, to);
}

/** Where the content ends that isn't room, from the top of what scrolls. */
function contentEnd(scroller: HTMLElement, room: Room): number {
  const last = scroller.lastElementChild?.getBoundingClientRect().bottom ?? 0;
  return last - scroller.getBoundingClientRect().top + scroller.scrollTop + paddings(scroller, room).bottom;
}

/** The padding that the style gives. */
function paddings(scroller: HTMLElement, room: Room) {
  const { paddingTop, paddingBottom } = getComputedStyle(scroller);
  return { top: Number.parseFloat(paddingTop) - room.above, bottom: Number.parseFloat(paddingBottom) - room.below };
}

function apply(scroller: HTMLElement, rooms: Map<HTMLElement, Room>) {
  const room = rooms.get(scroller);
  scroller.style.removeProperty('padding-top');
  scroller.style.removeProperty('padding-bottom');
  if (!room) return;
  const { top, bottom } = paddings(scroller, { above: 0, below: 0 });
  if (room.above > 0) scroller.style.paddingTop = `${top + room.above}px`;
  if (room.below > 0) scroller.style.paddingBottom = `${bottom + room.below}px`;
}

/** Takes room away that the reader has scrolled out of sight. */
function giveBack(scroller: HTMLElement, rooms: Map<HTMLElement, Room>) {
  const room = rooms.get(scroller);
  if (!room) return;
  const above = scroller.scrollTop >= room.above ? 0 : room.above;
  const below = scroller.scrollTop + scroller.clientHeight <= scroller.scrollHeight - room.below ? 0 : room.below;
  if (above === room.above && below === room.below) return;
  const to = scroller.scrollTop - (room.above - above);
  rooms.set(scroller, { above, below });
  apply(scroller, rooms);
  scroller.scrollTop = to;
}

function release(scroller: HTMLElement, rooms: Map<HTMLElement, Room>) {
  const above = rooms.get(scroller)?.above ?? 0;
  const to = Math.max(0, scroller.scrollTop - above);
  rooms.delete(scroller);
  apply(scroller, rooms);
  scroller.scrollTop = to;
}
