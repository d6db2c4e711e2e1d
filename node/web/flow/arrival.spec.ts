import { type BrowserContext, expect, type Locator, type Page, test } from '@playwright/test';
import { byKeyboard, line, value } from './hands';
import { type Laptop, Staff } from './staff';
import { alike, rewrite, valuesOf } from './writing';

// What arrives from other laptops is there at once, and moves nothing that somebody is about to press. All names are invented.

const player = 'Daxel Zeleskil';

let staff: Staff;
let director: Laptop;
let scout: Laptop;
let other: Laptop;
let context: BrowserContext;
let page: Page;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async ({ browser }) => {
  staff = await Staff.found();
  [director, scout, other] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road'), staff.laptop('elsbet-road')];
  context = await browser.newContext();
  page = await context.newPage();
  await page.goto(await director.start());
  await expect(page.getByText(/^live/)).toBeVisible();
  await scout.start();
  await scout.run('connect', director.links);
  await expect(page.getByText('live, 1 in reach')).toBeVisible();
});
test.afterAll(async () => {
  await Promise.all([director.stop(), scout.stop(), other.stop()]);
  await staff.end();
});

/** Holds the pointer or the cursor on a control while something arrives, and wants it where it was. */
async function expectStill(control: Locator, how: 'hover' | 'focus', arrive: () => Promise<unknown>, arrived: Locator) {
  if (how === 'focus') await page.mouse.move(0, 0);
  await control[how]();
  const before = await control.boundingBox();
  const focused = await focus();
  await arrive();
  await expect(arrived.first()).toBeAttached();
  // Whatever follows from an arrival follows within a few frames.
  await page.evaluate(() => new Promise((resolve) => setTimeout(resolve, 300)));
  const after = await control.boundingBox();
  for (const side of ['x', 'y', 'width', 'height'] as const) {
    // Parts of a page scroll by whole pixels.
    expect(Math.abs((after?.[side] ?? 0) - (before?.[side] ?? 0)), `${side}: ${JSON.stringify([before, after])}`).toBeLessThanOrEqual(1);
  }
  expect(await focus()).toBe(focused);
}

/** What has the focus, without what is written in it. */
const focus = () => page.evaluate(() => (document.activeElement?.cloneNode(false) as Element | undefined)?.outerHTML);

/** Lets the director and a scout disagree: the scout writes unheard, and comes into reach then. */
async function disagree(by: Laptop, field: string, his: string, mine: string) {
  await by.stop();
  await rewrite(by, player, field, his);
  await rewrite(director, player, field, mine);
  await by.start();
  await by.run('connect', director.links);
}

test('the list of prospects: rows stay, and what arrived waits below them', async () => {
  await page.getByRole('link', { name: 'Prospects' }).click();
  const row = page.getByRole('row').nth(4).getByRole('link');
  await expectStill(row, 'hover', () => scout.run('add', 'prospect', 'name=Abel Aske'), page.getByText('1 row arrived or moved'));
  const last = page.getByRole('row').last().getByRole('link');
  await expectStill(last, 'hover', () => scout.run('add', 'prospect', 'name=Abel Bask'), page.getByText('2 rows arrived or moved'));
  await page.keyboard.press('r');
  await page.keyboard.press('Home');
  await expect(page.getByRole('row').nth(1)).toContainText('Abel Aske');
});

test('a list of other records: rows stay, and what arrived waits below them', async () => {
  await page.getByRole('link', { name: 'Records' }).click();
  const row = page.getByRole('row').nth(2).getByRole('link');
  await expectStill(row, 'hover', () => scout.run('add', 'game', 'date=2026-01-02', 'home=Aske', 'away=Bask'), page.getByText('1 row arrived or moved'));
  await page.keyboard.press('r');
  await expect(page.getByRole('row').filter({ hasText: 'Aske' })).toHaveCount(1);
});

test('a prospect: what comes above moves neither what the pointer is on nor what has the focus', async () => {
  await byKeyboard.open(page, player);
  const change = page.getByRole('button', { name: 'Change Note' });
  await expectStill(change, 'hover', () => disagree(scout, 'hometown', 'Low Ridge', 'Wren Hollow'), line(page, 'Hometown').getByText('≠ 2 values'));
  await expectStill(change, 'focus', () => disagree(scout, 'jersey', '55', '56'), line(page, 'Jersey').getByText('≠ 2 values'));
  const history = page.getByRole('button', { name: /every entry on his record/ });
  await expectStill(history, 'hover', () => scout.run('add', 'note', `prospect=${player}`, 'text=Ask the line coach.'), page.getByText('Ask the line coach.'));
  await expectStill(
    history,
    'focus',
    () => scout.run('add', 'measurement', `prospect=${player}`, 'what=forty', 'reading=5.11 verified hand 2026-03-02'),
    page.getByRole('cell', { name: '5.11' }),
  );
  // It goes away again: what was added above is taken out.
  await expectStill(change, 'hover', () => scout.run('settle', player, 'hometown', '--value', 'Salt Lick'), line(page, 'Hometown').getByText('Salt Lick'));
  await page.evaluate(() => document.querySelector('.page')?.scrollTo(0, 0));
  await expectStill(change, 'focus', () => scout.run('settle', player, 'jersey', '--value', '57'), value(page, 'Jersey').filter({ hasText: '57' }));
});

test('the conflicts: values and conflicts that arrive or are settled elsewhere move neither choices nor the pile', async () => {
  await disagree(scout, 'school', 'Low Ridge State', 'Wren Hollow State');
  await byKeyboard.open(page, player);
  await expect(line(page, 'School')).toContainText('≠ 2 values');
  await byKeyboard.toConflicts(page);
  await expect(page.getByText('School stands there in 2 ways')).toBeVisible();
  const choice = page.getByRole('button', { name: /Low Ridge State/ });
  const third = async () => {
    await rewrite(other, player, 'school', 'Salt Lick State');
    await other.start();
    await other.run('connect', director.links);
  };
  await expectStill(choice, 'hover', third, page.getByText('another value just arrived'));
  const save = page.getByRole('textbox', { name: 'Another value' });
  await expectStill(save, 'focus', () => scout.run('add', 'prospect', 'name=Abel Cray', 'position=guard'), page.getByText(/stands there in/));

  await page.keyboard.press('Escape');
  await page.getByRole('link', { name: /^Conflicts/ }).click();
  const rows = page.locator('.pile li').getByRole('button');
  await expect(rows.nth(1)).toBeVisible();
  const settled = (await rows.first().textContent()) ?? '';
  await rows.last().click();
  const [name = '', field = ''] = settled.split(', ');
  await expectStill(
    rows.last(),
    'hover',
    () => scout.run('settle', name, field.toLowerCase().trim(), '--value', field.startsWith('Position') ? 'guard' : '7'),
    page.getByText('✓ settled elsewhere'),
  );
});

test('doubles: a pair keeps its place while its values change, and new pairs wait', async () => {
  for (const name of ['Wendel Oskar', 'Wendel Oskarr']) await scout.run('add', 'prospect', `name=${name}`, 'school=Low Ridge', 'position=guard');
  await alike(director, scout);
  await page.getByRole('link', { name: 'Doubles' }).click();
  const apart = page.getByRole('button', { name: /keep them apart/ });
  await expect(apart).toBeVisible();
  const first = (await page.locator('.doubles thead a').first().textContent()) ?? '';
  await expectStill(apart, 'hover', () => scout.run('set', first, 'list_id=a late id'), page.getByText('a late id'));
  const late = 'One line.\nAnother line.\nAnd a third.';
  await expectStill(apart, 'focus', async () => rewrite(scout, first, 'note', late), page.getByText('And a third.'));
  const twin = async () => {
    for (const name of ['Brannoc Tulle', 'Brannoc Tull']) await scout.run('add', 'prospect', `name=${name}`, 'school=Low Ridge', 'position=guard');
  };
  await expectStill(apart, 'hover', twin, page.getByText('arrived or went: show'));
});

test('laptops: who comes and goes moves no button', async () => {
  await other.stop();
  await page.getByRole('link', { name: 'Laptops' }).click();
  const row = (name: string) => page.getByRole('row').filter({ hasText: name });
  const revoke = row('tobrin-road').getByRole('button', { name: /^Revoke/ });
  const invite = page.getByRole('button', { name: 'Invite a laptop' });
  await expect(row('elsbet-road')).toContainText('away');
  const comes = async () => {
    await other.start();
    await other.run('connect', director.links);
  };
  await expectStill(revoke, 'hover', comes, row('elsbet-road').getByText('in reach'));
  await expectStill(revoke, 'focus', () => other.stop(), row('elsbet-road').getByText('away'));
  await expectStill(invite, 'hover', comes, row('elsbet-road').getByText('in reach'));
});

test('import: what arrives moves nothing in a table that is about to come in', async () => {
  await page.getByRole('link', { name: 'Import' }).click();
  await page.getByLabel('The list’s name').fill('late list');
  await page.getByLabel('File').setInputFiles({ name: 'late.csv', mimeType: 'text/csv', buffer: Buffer.from('name,school,class_year\nBrannoc Tulle,Wren Hollow,2027\n') });
  const bring = page.getByRole('button', { name: /^Import/ });
  await expect(bring).toBeVisible();
  const conflict = page.getByRole('link', { name: /^Conflicts/ });
  const before = await conflict.textContent();
  const more = page.getByRole('link', { name: /^Conflicts/ }).filter({ hasNotText: before ?? '' });
  await expectStill(bring, 'hover', () => disagree(scout, 'list_id', 'one', 'two'), more);
});

test('what is saved on one laptop stands on the open pages of another at once', async ({ browser }) => {
  const theirs = await (await browser.newContext()).newPage();
  await theirs.goto(await scout.run('open', '--print'));
  await expect(theirs.getByText(/^live/)).toBeVisible();
  /** Presses a key here, and tells how long it took until a text stood there. Printed, since machines differ. */
  const timed = async (what: string, key: string, text: string) => {
    const seen = theirs.waitForFunction((wanted) => document.querySelector('main')?.textContent?.includes(wanted), text, { polling: 'raf' });
    const since = Date.now();
    await page.keyboard.press(key);
    await seen;
    console.log(`    ${what} was there after ${Date.now() - since} ms`);
  };
  await byKeyboard.open(theirs, player);
  await byKeyboard.open(page, player);
  await page.getByRole('button', { name: 'Change Hometown' }).press('Enter');
  await page.keyboard.type('Pine Bluffs');
  await timed('a value, on the page of a prospect,', 'Enter', 'Pine Bluffs');
  await expect(page.getByText('✓ saved')).toBeVisible();

  await disagree(other, 'class_year', '2026', '2028');
  for (const one of [page, theirs]) {
    await byKeyboard.open(one, player);
    await expect(line(one, 'Class')).toContainText('≠ 2 values');
    await byKeyboard.toConflicts(one);
    await one.locator('.pile').getByRole('button', { name: /Class/ }).click();
    await expect(one.getByText('Class stands there in 2 ways')).toBeVisible();
  }
  await timed('a conflict settled elsewhere', '1', 'Class ✓ is settled');
  await alike(director, scout);
  expect(await valuesOf(scout, player, 'hometown')).toMatchObject([{ text: 'Pine Bluffs' }]);
  await theirs.context().close();
});
