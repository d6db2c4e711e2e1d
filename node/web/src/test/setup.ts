// What jsdom lacks of a browser: sizes, locks between tabs, scrolling. Whole flows run in a real one.
import { cleanup, configure } from '@testing-library/react';
import { afterEach, vi } from 'vitest';
import { newLocks } from './locks';

// Waiting ends when it is there; a busy machine needs longer for the first page of a file.
configure({ asyncUtilTimeout: 20_000 });
vi.setConfig({ testTimeout: 60_000 });

Object.defineProperties(HTMLElement.prototype, {
  clientHeight: { get: () => 600 },
  clientWidth: { get: () => 1200 },
});
Object.defineProperty(globalThis, 'CSS', { value: { escape: (text: string) => text } });
Object.defineProperty(navigator, 'locks', { value: newLocks() });
Element.prototype.scrollTo = () => undefined;
Element.prototype.scrollIntoView = () => undefined;
window.scrollTo = () => undefined;
window.matchMedia = (media) => Object.assign(new EventTarget(), { media, matches: false }) as MediaQueryList;

afterEach(() => {
  cleanup();
  localStorage.clear();
  sessionStorage.clear();
});
