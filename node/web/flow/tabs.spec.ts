import { type BrowserContext, expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { Drowsy } from './drowsy';
import { byKeyboard, line, value } from './hands';
import { type Laptop, Staff, typing } from './staff';

// Many tabs, tabs that sleep or hang, and a node that is killed, started again or gone. All names are invented.

const player = 'Daxel Zeleskil';

let staff: Staff;
let director: Laptop;
let context: BrowserContext;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  director = staff.laptop('maro-desk');
  await director.start();
});
test.afterAll(async () => {
  await director.stop();
  await staff.end();
});
test.beforeEach(async ({ browser }) => {
  context = await browser.newContext();
});
test.afterEach(() => context.close());

/** Opens tabs at a player's page. The first one reads the stream for all. */
async function open(many: number): Promise<[Page, ...Page[]]> {
  const first = await context.newPage();
  await first.goto(await director.run('open', '--print'));
  await isLive(first);
  await byKeyboard.open(first, player);
  const others = await Promise.all(Array.from({ length: many - 1 }, () => context.newPage()));
  for (const tab of others) await tab.goto(first.url());
  await Promise.all(others.map(isLive));
  return [first, ...others];
}

const isLive = (page: Page) => expect(page.getByText(/^live/)).toBeVisible();
const shows = (page: Page, jersey: string) => expect(value(page, 'Jersey')).toHaveText(jersey);
const everyone = (tabs: readonly Page[], jersey: string) => Promise.all(tabs.map((tab) => shows(tab, jersey)));
const change = (jersey: string) => director.change(player, 'jersey', jersey);

// Browsers keep six connections to an address: without sharing, the seventh tab would wait for ever.
test('twenty tabs are live over six connections at most; the tab that reads the stream may close or crash', async () => {
  const tabs = await open(20);
  await change('11');
  await everyone(tabs, '11');
  expect(await director.connections()).toBeLessThanOrEqual(6);
  await tabs[0].close();
  await change('12');
  await everyone(tabs.slice(1), '12');
  await tabs[1]?.goto('chrome://crash').catch(() => undefined);
  await change('13');
  await everyone(tabs.slice(2), '13');
  expect(await director.connections()).toBeLessThanOrEqual(6);
});

// An hour of sleep is what happens meanwhile: others write, the node is started anew. Browsers tell a tab that they put it to
// sleep, and stop its clocks (Page Lifecycle, WICG: freeze and resume).
test('a tab that slept while it read the stream gives it to another one, and catches up when it wakes', async () => {
  const drowsy = await Drowsy.launch();
  context = drowsy.context;
  const [sleeper, other] = (await open(2)) as [Page, Page];
  const clock = await sleeper.evaluateHandle(() => {
    const ticks = { count: 0 };
    setInterval(() => ticks.count++, 100);
    return ticks;
  });
  const lifecycle = await context.newCDPSession(sleeper);
  await lifecycle.send('Page.setWebLifecycleState', { state: 'frozen' });
  const before = await clock.evaluate(({ count }) => count);
  await change('21');
  await shows(other, '21');
  await director.stop();
  await director.start();
  await isLive(other);
  await change('22');
  await shows(other, '22');
  expect(await clock.evaluate(({ count }) => count)).toBe(before);
  expect(['21', '22']).not.toContain(await value(sleeper, 'Jersey').textContent());
  await lifecycle.send('Page.setWebLifecycleState', { state: 'active' });
  await shows(sleeper, '22');
  await isLive(sleeper);
  await other.close();
  await change('23');
  await shows(sleeper, '23');
  await drowsy.close();
});

// Nothing tells the others that a tab hangs.
test('a tab that hangs while it reads the stream loses it to another one, and follows when it is free', async () => {
  const [hung, other] = (await open(2)) as [Page, Page];
  const debug = await context.newCDPSession(hung);
  await debug.send('Debugger.enable');
  const paused = new Promise((resolve) => debug.once('Debugger.paused', resolve));
  await debug.send('Debugger.pause');
  await paused;
  await change('31');
  await other.bringToFront();
  await shows(other, '31');
  await debug.send('Debugger.resume');
  await debug.detach();
  await change('32');
  await everyone([hung, other], '32');
});

test('a killed node is said, what is typed stays, and the page goes on without a reload', async () => {
  const [page, other] = (await open(2)) as [Page, Page];
  await page.evaluate(() => Object.assign(window, { sameAsBefore: true }));
  await page.getByRole('button', { name: 'Change Hometown' }).press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('Wren');
  await director.stop('SIGKILL');
  for (const tab of [page, other]) await expect(tab.getByText('the node is away')).toBeVisible();
  await page.keyboard.type(' Hollow');
  await page.keyboard.press('Enter');
  await expect(page.getByText('Not saved: The node doesn’t answer')).toBeVisible();
  await director.start();
  for (const tab of [page, other]) await isLive(tab);
  await expect(typing(page)).toHaveValue('Wren Hollow');
  await page.keyboard.press('Enter');
  await expect(page.getByText('✓ saved')).toBeVisible();
  for (const tab of [page, other]) await expect(line(tab, 'Hometown')).toContainText('Wren Hollow');
  expect(await page.evaluate(() => 'sameAsBefore' in window)).toBe(true);
});

test('a node that stays away: every tab says what to type, until it is back', async () => {
  const tabs = await open(2);
  await director.stop();
  for (const tab of tabs) {
    await expect(tab.getByRole('alert').filter({ hasText: 'plumbline run' })).toBeVisible();
    await expect(tab.getByText(player).first()).toBeVisible();
  }
  await expectReadable(tabs[0], 'a node that is away');
  await director.start();
  for (const tab of tabs) {
    await isLive(tab);
    await expect(tab.getByText('plumbline run')).toHaveCount(0);
  }
});
