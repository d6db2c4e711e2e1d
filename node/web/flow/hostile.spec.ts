import { request } from 'node:http';
import { type Browser, type BrowserContext, chromium, expect, type Frame, type Page, test } from '@playwright/test';
import config from '../playwright.config';
import { calls, nowhere, simpleTypes, sockets, Stranger, tags, type Target, Turning } from './hostile';
import { type Laptop, Staff } from './staff';

// A page of somebody else's in the browser that has the node's page open. It knows the address, and worse, a session token.
// Names end in .example (RFC 2606). Beside each check stands what it was seen to fail on, when that was taken out of the
// node; headers and how browsers set them are those of the Fetch and Fetch Metadata standards.

let staff: Staff;
let director: Laptop;
let other: Laptop;
let stranger: Stranger;
let browser: Browser;
let context: BrowserContext;
let victim: Page;
let target: Target;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  [director, other] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road')];
  const address = await director.start();
  stranger = await Stranger.listen();
  const launch = config.use?.launchOptions;
  const names = 'MAP films.example 127.0.0.1, MAP turning.example 127.0.0.2';
  browser = await chromium.launch({ ...launch, args: [...(launch?.args ?? []), `--host-resolver-rules=${names}`] });
  context = await browser.newContext();
  victim = await context.newPage();
  await victim.goto(address);
  await expect(victim.getByText(/^live/)).toBeVisible();
  target = {
    api: director.api,
    call: `${director.api}/plumbline.v1.LedgerService/Write`,
    body: JSON.stringify({ writes: [{ kind: 'prospect', sets: [{ field: 'name', text: 'Nobody Atall' }] }] }),
    token: (await victim.evaluate(() => localStorage.getItem('plumbline.session'))) ?? '',
  };
});
test.afterAll(async () => {
  await browser.close();
  stranger.end();
  await Promise.all([director.stop(), other.stop()]);
  await staff.end();
});

/** What a hostile page must not change: the records, and who is let in. */
async function standing() {
  const { entries, state_hash: state } = JSON.parse(await director.run('status', '--json')) as Record<string, unknown>;
  return { entries, state, sessions: await director.sessions() };
}

/** Opens a hostile page, and notes the node's answers to it. */
async function lured(url: string) {
  const page = await context.newPage();
  await page.goto(url);
  await expect(page.getByRole('heading', { name: 'free film' })).toBeVisible();
  return { page, answers: await answersTo(page) };
}

/** What arrives at the browser, which shows a page less of it. */
async function answersTo(page: Page | Frame): Promise<() => string[]> {
  const asked = new Map<string, string>();
  const codes = new Map<string, number>();
  const wire = await context.newCDPSession(page);
  await wire.send('Network.enable');
  wire.on('Network.requestWillBeSent', ({ requestId, request }) => {
    const { host, pathname } = new URL(request.url);
    if (host === new URL(director.api).host) asked.set(requestId, `${request.method} ${pathname}`);
  });
  wire.on('Network.responseReceivedExtraInfo', ({ requestId, statusCode }) => codes.set(requestId, statusCode));
  return () => [...asked].flatMap(([id, question]) => (codes.has(id) ? [`${codes.get(id)} ${question}`] : []));
}

/** All answers were refusals, and those to some questions are among them. */
async function expectRefused(answers: () => string[], questions: readonly string[]) {
  await expect.poll(answers).toEqual(expect.arrayContaining(questions.map((question) => `403 ${question}`)));
  expect(answers().filter((one) => !one.startsWith('403 '))).toEqual([]);
}

const mainQuestions = ['GET /', 'GET /open', 'POST /plumbline.v1.LedgerService/Write'];
const readable = (seen: Record<string, string>) => Object.entries(seen).filter(([, what]) => what !== 'nothing');

const origins: [string, () => string][] = [
  ['another site', () => `http://films.example:${stranger.port}/`],
  ['another port of this machine', () => `http://127.0.0.1:${stranger.port}/`],
  ['another port, where service workers are allowed', () => `http://localhost:${stranger.port}/`],
];

for (const [name, url] of origins) {
  // Fails without the check of Sec-Fetch-Site and Origin (guard.go, fromHere): the answers are 401, 415 and 200 then.
  test(`${name}: calls, forms, tags, frames, sockets and workers get nothing and change nothing`, async () => {
    const before = await standing();
    const { page, answers } = await lured(url());
    expect(readable(await page.evaluate(calls, { target, types: simpleTypes }))).toEqual([]);
    expect(readable(await page.evaluate(tags, { target }))).toEqual([]);
    expect(readable(await page.evaluate(sockets, { target }))).toEqual([]);
    await expectRefused(answers, [...mainQuestions, 'GET /assets/app.js', 'GET /assets/app.css', 'GET /plumb.svg']);
    for (const frame of page.frames()) expect(await frame.getByText('Plumbline').count()).toBe(0);
    expect(await standing()).toEqual(before);
    await page.close();
  });

  // As above; a frame without an origin says so with "null".
  for (const how of ['sandbox', 'data'] as const) {
    test(`${name}: a frame of no origin (${how}) gets nothing and changes nothing`, async () => {
      const before = await standing();
      const { page } = await lured(url());
      await page.evaluate(nowhere, how);
      const frame = await expect.poll(() => page.frames()[1]).toBeDefined().then(() => page.frames()[1] as Frame);
      await expect(frame.getByRole('heading', { name: 'free film' })).toBeVisible();
      expect(await frame.evaluate(() => origin)).toBe('null');
      const answers = await answersTo(frame);
      expect(readable(await frame.evaluate(calls, { target, types: simpleTypes }))).toEqual([]);
      await expectRefused(answers, mainQuestions);
      expect(await standing()).toEqual(before);
      await page.close();
    });
  }

  test(`${name}: a window that it opens tells nothing, and hears nothing`, async () => {
    const before = await standing();
    const { page } = await lured(url());
    const opened = context.waitForEvent('page');
    await page.evaluate((api) => Object.assign(window, { prey: open(`${api}/conflicts`) }), target.api);
    const window = await opened;
    await window.waitForLoadState();
    expect(await window.getByRole('link', { name: 'Prospects' }).count()).toBe(0);
    const got = await page.evaluate(async (token) => {
      const { prey } = globalThis as unknown as { prey: Window };
      for (const message of [{ kind: 'link', link: 'refused' }, { kind: 'ask' }, `#launch=${token}`]) prey.postMessage(message, '*');
      try {
        return prey.document.body.textContent;
      } catch {
        return 'nothing';
      }
    }, target.token);
    expect(got).toBe('nothing');
    await expect(victim.getByText(/^live/)).toBeVisible();
    expect(await standing()).toEqual(before);
    await window.close();
    await page.close();
  });
}

// Fails without Cross-Origin-Opener-Policy (web.go, protect).
test('the one address that may be gone to from elsewhere cuts the window off from who opened it', async () => {
  const before = await standing();
  const { page } = await lured(`http://films.example:${stranger.port}/`);
  const opened = context.waitForEvent('page');
  await page.evaluate((api) => Object.assign(window, { prey: open(`${api}/open`) }), target.api);
  const window = await opened;
  await expect(window.getByText(/^live/)).toBeVisible();
  expect(await page.evaluate(() => (globalThis as unknown as { prey: Window }).prey.closed)).toBe(true);
  expect(await window.evaluate(() => opener)).toBeNull();
  expect(await standing()).toEqual(before);
  await window.close();
  await page.close();
});

// Fails without the check of the host (guard.go, isOurs): the page itself is readable then.
test('a name that is turned to the node is told that it is somebody else’s, and nothing more', async () => {
  const before = await standing();
  const { port } = new URL(director.api);
  const turning = await Turning.listen(Number(port));
  const api = `http://turning.example:${port}`;
  const { page } = await lured(`${api}/`);
  turning.turned = true;
  const mine = { ...target, api, call: target.call.replace(director.api, api) };
  const seen = await page.evaluate(calls, { target: mine, types: simpleTypes });
  expect(Object.keys(seen).length).toBeGreaterThan(12);
  for (const [what, answer] of Object.entries(seen)) expect(answer, what).toMatch(/^(nothing$|421 this is 127\.0\.0\.1:)/);
  expect(Object.values(seen).filter((answer) => answer !== 'nothing').length).toBeGreaterThan(12);
  // Also typed in, or by a link: what is shown is the refusal.
  const navigated = await page.goto(`${api}/conflicts`);
  expect(navigated?.status()).toBe(421);
  expect(await page.evaluate(() => navigator.serviceWorker?.controller ?? null)).toBeNull();
  expect(await standing()).toEqual(before);
  await page.close();
  turning.end();
});

// Fails when a launch token isn't taken out as it is used (sessions.go, exchange).
test('a launch token that was used buys nothing more', async () => {
  const launch = new URL(await director.run('open', '--print')).hash.replace('#launch=', '');
  const buy = () =>
    victim.evaluate(async (bearer) => {
      const answer = await fetch('/session', { method: 'POST', headers: { Authorization: `Bearer ${bearer}` } });
      return `${answer.status}`;
    }, launch);
  expect(await buy()).toBe('200');
  const before = await standing();
  expect(await buy()).toBe('401');
  expect(await standing()).toEqual(before);
});

// Fails without the check of the token (guard.go, holds).
test('another node’s session opens nothing here', async () => {
  const elsewhere = await browser.newPage();
  await elsewhere.goto(await other.start());
  await expect(elsewhere.getByText(/^live/)).toBeVisible();
  const foreign = await elsewhere.evaluate(() => localStorage.getItem('plumbline.session') ?? '');
  expect(foreign).not.toBe('');
  await elsewhere.close();
  const before = await standing();
  const page = await browser.newPage();
  await page.addInitScript((token) => localStorage.setItem('plumbline.session', token), foreign);
  await page.goto(director.api);
  await expect(page.getByRole('heading', { name: 'This browser isn’t let in' })).toBeVisible();
  const answer = await page.evaluate(write, { ...target, token: foreign });
  expect(answer).toContain('401');
  expect(await standing()).toEqual(before);
  await page.close();
});

// Fails when the handler reads paths from the disk.
test('paths that climb lead nowhere', async () => {
  const screen = (await raw('/')).replaceAll(nonce, '');
  expect(screen).toContain('200 <!doctype html>');
  for (const path of [
    '/../api.json', '/../../state/api.json', '/%2e%2e/api.json', '/assets/..%2f..%2fapi.json', '/assets/../../../../etc/passwd',
    '/..\\..\\state\\api.json', '/%5c..%5capi.json', '//films.example/', '/\\films.example', '/./api.json', '/assets/',
    '/dist/index.html', '/%00', '/assets/app.js/..', '/.git/config', '/etc/passwd',
  ]) {
    const answer = (await raw(path)).replaceAll(nonce, '');
    // A screen of the page, which is the same for everybody, or a refusal without a way on.
    expect(answer === screen || /^(400|401|404) /.test(answer), `${path}: ${answer.slice(0, 100)}`).toBe(true);
  }
});
const nonce = /"[A-Z2-7]{26}"/g;

// What shows that the checks above look at the right thing: the same call from the page itself does write.
test('the page itself may do all that', async () => {
  const before = await standing();
  expect(await victim.evaluate(write, target)).toContain('200');
  expect((await standing()).state).not.toBe(before.state);
});

/** Runs in a page: the call, as the page would make it. */
async function write({ call, body, token }: Target): Promise<string> {
  const headers = { 'Content-Type': 'application/json', Authorization: `Bearer ${token}` };
  const answer = await fetch(call, { method: 'POST', headers, body });
  return `${answer.status} ${await answer.text()}`;
}

/** Asks for a path as it stands: browsers and most clients tidy it up. */
function raw(path: string): Promise<string> {
  const { hostname, port } = new URL(director.api);
  return new Promise((resolve, reject) => {
    request({ hostname, port, path }, (answer) => {
      let text = `${answer.statusCode} `;
      answer.setEncoding('utf8').on('data', (part: string) => (text += part));
      answer.on('end', () => resolve(text));
    })
      .on('error', reject)
      .end();
  });
}
