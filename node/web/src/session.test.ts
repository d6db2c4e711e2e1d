import { expect, test } from 'vitest';
import { enter, sessionToken } from './session';

function browser(hash: string, answer: Response, pathname = '/conflicts') {
  const shown: string[] = [];
  const asked: RequestInit[] = [];
  return {
    shown,
    asked,
    location: { hash, pathname, search: '?record=a' } as Location,
    history: { state: null, replaceState: (_: unknown, __: string, to: string) => shown.push(to) } as unknown as History,
    storage: localStorage,
    fetch: (async (_: string, init: RequestInit) => {
      asked.push(init);
      return answer;
    }) as typeof fetch,
  };
}

test('a launch token buys a session, and leaves the address bar', async () => {
  const b = browser('#launch=abc', new Response('session-1'));
  expect(await enter(b)).toBe('open');
  expect(sessionToken()).toBe('session-1');
  expect(b.shown).toEqual(['/conflicts?record=a']);
  expect(b.asked[0]?.headers).toEqual({ Authorization: 'Bearer abc' });
});

test('who comes in at the door stands before the list', async () => {
  const b = browser('#launch=abc', new Response('session-1'), '/open');
  expect(await enter(b)).toBe('open');
  expect(b.shown).toEqual(['/?record=a']);
});

test('a used launch token says so', async () => {
  expect(await enter(browser('#launch=abc', new Response('', { status: 401 })))).toBe('used');
  expect(sessionToken()).toBe('');
});

test('a browser that was let in stays in, whatever stands in the address', async () => {
  localStorage.setItem('plumbline.session', 'session-1');
  expect(await enter(browser('', new Response()))).toBe('open');
  expect(await enter(browser('#launch=old', new Response('', { status: 401 })))).toBe('open');
  expect(sessionToken()).toBe('session-1');
});

test('any other browser is told what to do', async () => {
  expect(await enter(browser('', new Response()))).toBe('none');
});
