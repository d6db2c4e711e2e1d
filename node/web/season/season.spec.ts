import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, type Page, test } from '@playwright/test';
import { Laptop, typing } from '../flow/staff';
import { head, processorTime, report } from './figures';
import { MainThread, type Watched, watching } from './watching';

// What it is like to work with a season's film: 3,000 prospects, 300,000 reps. Everything is printed, nothing is demanded: wall
// times hang on the machine and on what else runs there. So each figure stands beside a baseline of the same run, and
// processor time beside wall time. Goals, on an idle laptop: the first page within 500 ms, a key of the search within 100 ms at
// p99, a call within 50 ms at p99. The world is invented.

const laptop = new Laptop(process.env.SEASON ?? '');
let address: string;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  address = await laptop.start();
});
test.afterAll(() => laptop.stop());

const names = async () => {
  const { rows } = (await call('List', { kind: 'prospect', textsOnly: true, columns: ['name', 'reps'] })).answer as {
    rows: { id: string; texts: string[] }[];
  };
  return rows.map(({ id, texts: [name = '', reps = '0'] }) => ({ id, name, reps: Number(reps) }));
};

/** Calls as a program does, over a connection that is kept. */
async function call(method: string, body: object): Promise<{ took: number; answer: unknown }> {
  const path = method.startsWith('/') ? method : `/plumbline.v1.LedgerService/${method}`;
  const { token } = JSON.parse(await readFile(join(laptop.folder, 'state', 'api.json'), 'utf8')) as { token: string };
  const headers = { 'Content-Type': 'application/json', Authorization: `Bearer ${token}` };
  const began = performance.now();
  const answer = await fetch(laptop.api + path, { method: 'POST', headers, body: JSON.stringify(body) });
  const text = await answer.text();
  const took = performance.now() - began;
  if (!answer.ok) throw new Error(text);
  return { took, answer: JSON.parse(text) };
}

async function each<T>(items: readonly T[], measure: (item: T) => Promise<number | undefined>): Promise<number[]> {
  const times: number[] = [];
  for (const item of items) {
    const took = await measure(item);
    if (took !== undefined) times.push(took);
  }
  return times;
}

/** Some of many, evenly taken: the same ones in each run. */
const some = <T>(all: readonly T[], n: number): T[] => all.filter((_, i) => i % Math.ceil(all.length / n) === 0);

test('calls', async () => {
  const all = await names();
  const columns = ['name', 'position', 'school', 'class_year', 'height', 'weight', 'arm', 'forty', 'looks', 'reps', 'won_share', 'evaluations', 'overall'];
  const list = (more: object) => ({ kind: 'prospect', textsOnly: true, columns, sort: ['name'], ...more });
  const sample = some(all, 200);
  head('calls');
  for (const [what, method, body] of [
    ['nothing', '/grpc.health.v1.Health/Check', () => ({})],
    ['search, one letter', 'List', ({ name }) => list({ search: name.slice(0, 1), limit: 100 })],
    ['search, three letters', 'List', ({ name }) => list({ search: name.slice(0, 3), limit: 100 })],
    ['search, a name', 'List', ({ name }) => list({ search: name, limit: 100 })],
    ['filter', 'List', () => list({ where: 'position == "tackle" && arm >= 334 && won_share > 0.5', limit: 100 })],
    ['the first hundred', 'List', () => list({ limit: 100 })],
    ['all 3,000', 'List', () => list({})],
    ['one prospect', 'Get', ({ id }) => ({ record: id })],
    ['conflicts', 'Conflicts', () => ({})],
    ['doubles', 'Doubles', () => ({})],
  ] as [string, string, (one: { id: string; name: string }) => object][]) {
    const before = processorTime(laptop.process);
    const times = await each(sample, async (one) => (await call(method, body(one))).took);
    report(what, times, `${((processorTime(laptop.process) - before) / times.length).toFixed(1)} ms of the node's processor time each`);
  }
});

test('opening', async ({ browser }) => {
  const context = await browser.newContext();
  await context.addInitScript(watching);
  const first = await context.newPage();
  await first.goto(address);
  await first.evaluate(() => (window as unknown as Watched).opened);
  const storage = await context.storageState();
  let busy = 0;
  const open = async (page: Page) => {
    const main = await MainThread.of(page);
    const before = await main.time();
    await page.goto(laptop.api);
    const took = await page.evaluate(() => (window as unknown as Watched).opened);
    busy += (await main.time()) - before;
    return took;
  };
  const processor = () => `${(busy / 10).toFixed(0)} ms of the page's processor time each`;
  const ten = Array.from({ length: 10 }, (_, i) => i);
  head('opening the page, from going there to its first rows');
  report('a page that isn’t let in (nothing to show)', await each(ten, async () => {
    const page = await browser.newPage();
    await page.addInitScript(watching);
    await page.goto(laptop.api);
    const took = await page.evaluate(() => (window as unknown as Watched).drawn(() => document.querySelector('h1') !== null, 60_000));
    await page.close();
    return took;
  })); // prettier-ignore
  report('in a browser that was never there', await each(ten, async () => {
    const fresh = await browser.newContext({ storageState: storage });
    await fresh.addInitScript(watching);
    const took = await open(await fresh.newPage());
    await fresh.close();
    return took;
  }), processor()); // prettier-ignore
  busy = 0;
  report('again', await each(ten, () => open(first)), processor());
  await context.close();
});

test('typing, scrolling, one prospect', async ({ browser }) => {
  const all = await names();
  const page = await browser.newPage();
  await page.addInitScript(watching);
  await page.goto(await laptop.run('open', '--print'));
  await page.evaluate(() => (window as unknown as Watched).opened);
  await expect(page.getByRole('grid')).toHaveAttribute('aria-rowcount', String(all.length + 1));
  await type(page, some(all, 25));
  await scroll(page);
  await read(page, some(all.filter(({ reps }) => reps > 100), 25));
  await page.close();
});

/** Notes the processor time that page and node use from now on; the answer shares it out. */
async function spending(page: Page): Promise<(among: number) => Promise<string>> {
  const main = await MainThread.of(page);
  const [thread, node] = [await main.time(), processorTime(laptop.process)];
  return async (among) => {
    const [byPage, byNode] = [(await main.time()) - thread, processorTime(laptop.process) - node];
    return `${(byPage / among).toFixed(1)} ms of the page's processor time each, ${(byNode / among).toFixed(1)} of the node's`;
  };
}

/** Types names as fast as people do: a key each 150 ms, or when the last one is on the screen. */
async function type(page: Page, whom: readonly { name: string }[]) {
  const spent = await spending(page);
  const echo: number[] = [];
  const list: number[] = [];
  for (const { name } of whom) {
    await page.keyboard.press('/');
    await expect(typing(page)).toBeVisible();
    for (const key of name.slice(0, 8)) {
      await page.evaluate(watchKey);
      await page.keyboard.press(key === ' ' ? 'Space' : key);
      const seen = await page.evaluate(() => (window as unknown as { seen: Promise<{ echo: number; list?: number }> }).seen);
      echo.push(seen.echo);
      if (seen.list !== undefined) list.push(seen.list);
      await page.waitForTimeout(Math.max(0, 150 - (seen.list ?? 150)));
    }
    await page.keyboard.press('Escape');
  }
  head('a key in the search, until it is drawn');
  report('nothing: the letter itself', echo);
  report('the list that it asks for', list, await spent(echo.length));
  await page.keyboard.press('/');
  await page.keyboard.press('Backspace');
  await page.keyboard.press('Escape');
}

/** Runs in the page: from the next key to the frames that have its letter and its list. A list that stays the same isn't seen. */
function watchKey() {
  const { drawn } = window as unknown as Watched;
  const shown = () => document.querySelector('.rows .body')?.textContent;
  const isWhole = () => document.querySelector('.tally')?.textContent !== '';
  const seen = new Promise((resolve) => {
    addEventListener(
      'keydown',
      async ({ timeStamp }) => {
        const list = shown();
        const text = document.querySelector('input')?.value;
        const both = await Promise.all([
          drawn(() => document.querySelector('input')?.value !== text, 400),
          drawn(() => isWhole() && shown() !== list, 400),
        ]);
        const [echo, changed] = both.map((at) => (at === undefined ? undefined : at - timeStamp));
        resolve({ echo, list: changed });
      },
      { once: true, capture: true },
    );
  });
  Object.assign(window, { seen });
}

/** Goes through the whole list, five rows each frame, and does nothing for as long. */
async function scroll(page: Page) {
  const frames = (step: number) =>
    page.evaluate(
      (pixels) =>
        new Promise<number[]>((resolve) => {
          const rows = document.querySelector('.rows') as HTMLElement;
          const took: number[] = [];
          let last: number | undefined;
          rows.scrollTop = 0;
          const frame = (now: number) => {
            if (last !== undefined) took.push(now - last);
            last = now;
            rows.scrollTop += pixels;
            if (took.length < 600) requestAnimationFrame(frame);
            else resolve(took);
          };
          requestAnimationFrame(frame);
        }),
      step,
    );
  await expect(page.getByRole('grid')).toHaveAttribute('aria-rowcount', /^3\d{3}$/);
  const main = await MainThread.of(page);
  head('600 frames');
  for (const [what, step] of [['nothing moves', 0], ['3,000 rows go by, five each frame', 150]] as const) {
    const before = await main.time();
    const took = await frames(step);
    const dropped = took.reduce((sum, time) => sum + Math.max(0, Math.round(time / (1000 / 60)) - 1), 0);
    report(what, took, `${dropped} dropped; ${((await main.time() - before) / took.length).toFixed(1)} ms of the page's processor time each`);
  }
}

/** Opens prospects from the list, who were watched much. */
async function read(page: Page, whom: readonly { id: string; name: string }[]) {
  head('one prospect, from the key to his page');
  const spent = await spending(page);
  const times = await each(whom, async ({ id, name }) => {
    await page.evaluate((to) => {
      history.pushState({}, '', `/prospects/${to}`);
      Object.assign(window, { began: performance.now() });
      dispatchEvent(new PopStateEvent('popstate'));
    }, id);
    return page.evaluate(async (title) => {
      const { began, drawn } = window as unknown as Watched & { began: number };
      const isThere = () => document.querySelector('h1')?.textContent?.includes(title) === true && document.querySelectorAll('table').length > 0;
      const at = await drawn(isThere, 20_000);
      return at === undefined ? undefined : at - began;
    }, name);
  });
  report('his head and what is known of him', times, await spent(times.length));
}
