import { type Browser, expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { byKeyboard } from './hands';
import { type Laptop, Staff, typing } from './staff';

// Every page in every state that isn't shown in another flow, by day and in a dim room, on a small screen and a large one.
// Rules are axe-core's, which follow WCAG 2.2. All names are invented.

let staff: Staff;
let director: Laptop;
let scout: Laptop;
let founder: Laptop;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  [director, scout, founder] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road'), staff.laptop('other-desk')];
  await Promise.all([director.start(), scout.start(), founder.start()]);
  await scout.run('connect', director.links);
});
test.afterAll(async () => {
  await Promise.all([director.stop(), scout.stop(), founder.stop()]);
  await staff.end();
});

async function open(browser: Browser, laptop: Laptop): Promise<Page> {
  const page = await browser.newPage();
  await page.goto(await laptop.run('open', '--print'));
  await isLive(page);
  return page;
}

const isLive = (page: Page) => expect(page.locator('.link-state')).toHaveText(/^live/);

async function goTo(page: Page, path: string) {
  await page.goto(new URL(path, page.url()).href);
  await isLive(page);
}

test('the list: full, with a row chosen, with nobody in it, with a wrong filter, with news', async ({ browser }) => {
  const page = await open(browser, director);
  await expect(page.getByRole('row').nth(3)).toBeVisible();
  await expectReadable(page, 'the list');
  await page.keyboard.press('j');
  await expect(page.locator('[role=row][aria-selected=true]')).toBeVisible();
  await expectReadable(page, 'a row that is chosen');
  await page.getByRole('searchbox').fill('nobody is called that');
  await expect(page.getByText('Nobody matches.')).toBeVisible();
  await expectReadable(page, 'nobody');
  await page.getByRole('searchbox').fill('');
  await page.keyboard.press('Escape');
  await page.keyboard.press('f');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('positio');
  await expectReadable(page, 'a filter while it is typed');
  await page.keyboard.type('m == "tackle" &&');
  await expect(page.locator('input[aria-invalid=true]')).toBeVisible();
  await expectReadable(page, 'a filter that is wrong');
  await page.keyboard.press('Control+a');
  await page.keyboard.press('Delete');
  await expect(page.getByRole('row').nth(3)).toBeVisible();
  await director.run('add', 'prospect', 'name=Aabel Aarn');
  await expect(page.getByRole('button', { name: /arrived or moved/ })).toBeVisible();
  await expectReadable(page, 'rows that arrived');
  await page.close();
});

test('one prospect: as he stands, in conflict, while a field is changed, with his history, and nobody', async ({ browser }) => {
  const page = await open(browser, director);
  await byKeyboard.open(page, 'Caspin Ulveskil');
  await expect(page.getByText('≠ 2 values')).toBeVisible();
  await expectReadable(page, 'one in conflict');
  await byKeyboard.open(page, 'Daxel Zeleskil');
  await expectReadable(page, 'one prospect');
  await page.keyboard.press('h');
  await expect(page.locator('section', { hasText: 'History' }).getByText('Tobrin Askerly').first()).toBeVisible();
  // The key opens it far below: it comes into view, and the focus with it.
  const heading = page.getByRole('heading', { name: 'History' });
  await expect(heading).toBeFocused();
  await expect(heading).toBeInViewport();
  await expect(page.locator('.history tbody tr').first()).toBeInViewport();
  await expectReadable(page, 'his history');
  await page.getByRole('button', { name: 'Change Jersey' }).press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('5');
  await expectReadable(page, 'a field that is changed');
  await director.change('Daxel Zeleskil', 'jersey', '88');
  await expect(page.getByText('It changed while you were typing')).toBeVisible();
  await expectReadable(page, 'a field that changed meanwhile');
  await page.keyboard.press('Escape');
  await page.getByRole('button', { name: 'Change Class' }).press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('soon');
  await page.keyboard.press('Enter');
  await expect(page.getByText('Not saved: class_year')).toBeVisible();
  await expectReadable(page, 'a value that is refused');
  await goTo(page, '/prospects/nobody');
  await expect(page.getByRole('main').locator('.notice')).toBeVisible();
  await expectReadable(page, 'a prospect who isn’t there');
  await goTo(page, '/nowhere');
  await expect(page.getByText('There is no such page.')).toBeVisible();
  await expectReadable(page, 'a page that isn’t there');
  await page.close();
});

test('conflicts and doubles: one after the other, and when they are settled', async ({ browser }) => {
  const page = await open(browser, director);
  await goTo(page, '/conflicts');
  await expect(page.getByText(/of \d+ to settle/)).toBeVisible();
  await expectReadable(page, 'conflicts');
  await page.keyboard.press('e');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('neither');
  await expectReadable(page, 'a value that is written instead');
  await page.keyboard.press('Escape');
  for (const name of ['Wendel Oskar', 'Wendell Oskar']) {
    await director.run('add', 'prospect', `name=${name}`, 'school=Low Ridge', 'class_year=2027', 'position=guard');
  }
  await goTo(page, '/doubles');
  await expect(page.getByText(/Pair 1 of/)).toBeVisible();
  await expectReadable(page, 'doubles');
  await page.keyboard.press('n');
  await expect(page.getByRole('main').getByText(/✓/)).toBeVisible();
  await expectReadable(page, 'a pair that is kept apart');
  await page.close();
});

test('lists of other records, and what a new one is asked', async ({ browser }) => {
  const page = await open(browser, director);
  for (const path of ['/lists/factor', '/lists/game', '/lists/look', '/lists/rep', '/new/prospect', '/new/game']) {
    await goTo(page, path);
    await expect(page.getByRole('heading', { level: 1 })).toBeVisible();
    await expect(page.getByRole('main').locator('table, form, input').first()).toBeVisible();
    await expectReadable(page, path);
  }
  await page.close();
});

test('what lies over the page: keys and the palette', async ({ browser }) => {
  const page = await open(browser, director);
  await page.keyboard.press('?');
  await expect(page.getByRole('dialog', { name: 'Keys' })).toBeVisible();
  await expectReadable(page, 'the keys');
  await page.keyboard.press('Escape');
  await page.keyboard.press('Control+k');
  await expect(page.getByRole('dialog', { name: 'Go to' })).toBeVisible();
  await expectReadable(page, 'the palette');
  await page.keyboard.type('Zeleskil');
  await expect(page.getByRole('option', { name: 'Daxel Zeleskil' })).toBeVisible();
  await expectReadable(page, 'what the palette found');
  await page.keyboard.press('Escape');
  await page.close();
});

test('a staff that has nothing yet: every page', async ({ browser }) => {
  const page = await open(browser, founder);
  await expect(page.getByRole('heading', { name: 'Join a staff' })).toBeVisible();
  await founder.run('init', '--staff', 'Low Ridge', '--person', 'Hesk Tarrow', '--json');
  for (const [path, what] of [
    ['/', 'No prospects yet.'],
    ['/conflicts', 'Nothing is in conflict.'],
    ['/doubles', 'Nobody seems to be entered twice.'],
    ['/import', 'Import'],
    ['/laptops', 'Invite a laptop'],
  ] as const) {
    await goTo(page, path);
    await expect(page.getByRole('main').getByText(what).first()).toBeVisible();
    await expectReadable(page, `${path} of a new staff`);
  }
  await page.close();
});
