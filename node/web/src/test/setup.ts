// What jsdom lacks of a browser: sizes, locks between tabs, scrolling. Whole flows run in a real one.
import { cleanup } from '@testing-library/react';
import { afterEach } from 'vitest';
import { newLocks } from './locks';

Object.defineProperties(HTMLElement.prototype, {
  clientHeight: { get: () => 600 },
  clientWidth: { get: () => 1200 },
});
Object.defineProperty(globalThis, 'CSS', { value: { escape: (text: string) => text } });
Object.defineProperty(navigator, 'locks', { value: newLocks() });
Element.prototype.scrollTo = () => undefined;
window.scrollTo = () => undefined;

afterEach(() => {
  cleanup();
  localStorage.clear();
  sessionStorage.clear();
});
