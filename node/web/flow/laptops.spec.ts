import { type Browser, expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { type Laptop, Staff } from './staff';

// How laptops join and leave, on pages alone. All names are invented.

let staff: Staff;
let director: Laptop;
let newcomer: Laptop;
let founder: Laptop;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  [director, newcomer, founder] = [staff.laptop('maro-desk'), staff.laptop('new-road'), staff.laptop('other-desk')];
});
test.afterAll(async () => {
  await Promise.all([director.stop(), newcomer.stop(), founder.stop()]);
  await staff.end();
});

async function open(browser: Browser, laptop: Laptop): Promise<Page> {
  const page = await browser.newPage();
  await page.goto(await laptop.start());
  await expect(page.getByText(/^live/)).toBeVisible();
  return page;
}

const shown = (page: Page, part: string) => page.locator(`[data-part=${part}]`).first();
const rowOf = (page: Page, laptop: string) => page.getByRole('row').filter({ hasText: laptop });

async function giveCode(page: Page, code: string) {
  await page.getByLabel('The code that the other laptop shows').fill(code);
  await page.keyboard.press('Enter');
}

test('a laptop joins: address, word, two codes, one of them wrong at first', async ({ browser }) => {
  const [mine, theirs] = [await open(browser, director), await open(browser, newcomer)];
  await mine.keyboard.press('g');
  await mine.keyboard.press('l');
  await expect(rowOf(mine, 'maro-desk')).toContainText('this laptop');
  await expectReadable(mine, 'the roster');
  await mine.keyboard.press('i');
  await mine.getByLabel('Whose laptop').fill('Wenna Orlock');
  await expectReadable(mine, 'whom to invite');
  await mine.keyboard.press('Enter');
  await expect(shown(mine, 'word')).toBeVisible();
  await expectReadable(mine, 'an invitation');

  await expect(theirs.getByRole('heading', { name: 'Join a staff' })).toBeVisible();
  await expectReadable(theirs, 'a laptop without a staff');
  await theirs.getByLabel('Address').fill((await shown(mine, 'address').textContent()) ?? '');
  await theirs.getByLabel('Word').fill((await shown(mine, 'word').textContent()) ?? '');
  await theirs.locator('section', { hasText: 'Join a staff' }).getByLabel('This laptop’s name').fill('new-road');
  await theirs.getByRole('button', { name: 'Join' }).click();

  await expect(shown(mine, 'code')).toBeVisible();
  await expect(shown(theirs, 'code')).toBeVisible();
  await expectReadable(mine, 'the codes');
  const [code, others] = [await shown(mine, 'code').textContent(), await shown(theirs, 'code').textContent()];
  await giveCode(theirs, code === '111 111' ? '222222' : '111111');
  await expect(theirs.getByText('That isn’t the code on the other screen')).toBeVisible();
  await giveCode(theirs, code ?? '');
  await giveCode(mine, others ?? '');
  await expect(mine.getByText('Wenna Orlock has joined')).toBeVisible();
  await expect(theirs.getByRole('button', { name: 'Connect' })).toBeVisible();
  await expect(rowOf(theirs, 'new-road')).toContainText('this laptop');
  await expect(rowOf(theirs, 'new-road')).toContainText('Wenna Orlock');
  await expect(theirs.getByRole('button', { name: /Invite|Revoke/ })).toHaveCount(0);

  await theirs.keyboard.press('c');
  await theirs.keyboard.type(director.links);
  await theirs.keyboard.press('Enter');
  await expect(rowOf(mine, 'new-road')).toContainText('in reach');
  await expect(rowOf(theirs, 'maro-desk')).toContainText('in reach');
  await mine.close();
  await theirs.close();
});

test('rights are given and taken, each after a question', async ({ browser }) => {
  const mine = await browser.newPage();
  await mine.goto(await director.run('open', '--print'));
  await mine.getByRole('link', { name: 'Laptops' }).click();
  const row = rowOf(mine, 'new-road');
  await row.getByRole('button', { name: /^Promote/ }).click();
  await mine.getByRole('button', { name: 'Give a director’s rights' }).click();
  await expect(row).toContainText('director');
  await row.getByRole('button', { name: /^Demote/ }).click();
  await mine.getByRole('button', { name: 'Leave a scout’s rights' }).click();
  await expect(row.getByRole('cell', { name: 'scout', exact: true })).toBeVisible();

  await row.getByRole('button', { name: /^Revoke/ }).click();
  await expectReadable(mine, 'the question');
  await mine.keyboard.press('Enter');
  await expect(mine.getByRole('alertdialog')).toHaveCount(0);
  await expect(row).not.toContainText('revoked');
  await row.getByRole('button', { name: /^Revoke/ }).click();
  await mine.getByRole('button', { name: 'Revoke it' }).click();
  await expect(row).toContainText('✕ revoked');
  await expect(row).not.toContainText('in reach');
  await mine.close();
});

test('a staff is founded: the root is shown once, and a group of it typed back', async ({ browser }) => {
  const page = await open(browser, founder);
  await page.getByLabel('The staff’s name').fill('Low Ridge');
  await page.getByLabel('Your name').fill('Hesk Tarrow');
  await page.getByRole('button', { name: 'Found it' }).click();
  await expect(page.getByRole('dialog', { name: 'The staff’s root' })).toBeVisible();
  await expectReadable(page, 'the root');
  const groups = (await page.locator('.root li').allTextContents()).map((text) => text.trim().split(' ').at(-1) ?? '');
  await page.keyboard.press('Escape');
  const asked = Number(/\d+/.exec((await page.getByText(/Type group/).textContent()) ?? '')?.[0]);
  await page.getByLabel(/Type group/).fill(groups[asked - 1] ?? '');
  await page.keyboard.press('Enter');
  await expect(page.getByRole('button', { name: 'Invite a laptop' })).toBeVisible();
  const kept = await page.evaluate(() => JSON.stringify([{ ...localStorage }, { ...sessionStorage }, document.body.innerHTML]));
  expect(groups.filter((group) => kept.includes(group))).toEqual([]);
  await page.close();
});

test('who wrote alone joins another staff and takes the records along', async ({ browser }) => {
  await founder.run('add', 'prospect', 'name=Oswin Tarrant', 'school=Low Ridge');
  await founder.run('add', 'factor', 'name=patience');
  const mine = await browser.newPage();
  await mine.goto(await director.run('open', '--print'));
  await mine.getByRole('link', { name: 'Laptops' }).click();
  await expect(mine.getByRole('heading', { name: 'Laptops' })).toBeVisible();
  await mine.keyboard.press('i');
  await mine.getByLabel('Whose laptop').fill('Hesk Tarrow');
  await mine.keyboard.press('Enter');

  const theirs = await browser.newPage();
  await theirs.goto(await founder.run('open', '--print'));
  await theirs.getByRole('link', { name: 'Laptops' }).click();
  await theirs.getByRole('button', { name: 'Join another staff with these records' }).click();
  const panel = theirs.locator('section', { hasText: 'Join another staff' });
  await expect(panel).toContainText('1 prospect');
  await expect(panel).toContainText('1 factor, which only a director may write');
  await expect(panel).toContainText('/data/alone');
  await expectReadable(theirs, 'what goes along');
  await panel.getByLabel('Address').fill((await shown(mine, 'address').textContent()) ?? '');
  await panel.getByLabel('Word').fill((await shown(mine, 'word').textContent()) ?? '');
  await panel.getByRole('button', { name: 'Join', exact: true }).click();
  await expect(shown(mine, 'code')).toBeVisible();
  await expect(shown(theirs, 'code')).toBeVisible();
  const [code, others] = [await shown(mine, 'code').textContent(), await shown(theirs, 'code').textContent()];
  await giveCode(theirs, code ?? '');
  await giveCode(mine, others ?? '');
  await expect(mine.getByText('Hesk Tarrow has joined')).toBeVisible();

  // The node starts anew in the other staff, and the page goes on by itself.
  await expect(theirs.getByText('From Low Ridge came along: 1 prospect. Left behind: 1 factor.')).toBeVisible();
  await expectReadable(theirs, 'what came along');
  await expect(rowOf(theirs, 'maro-desk')).toBeVisible();
  await expect(theirs.getByRole('heading', { name: 'Join another staff' })).toHaveCount(0);
  await theirs.getByRole('link', { name: 'Prospects' }).click();
  await expect(theirs.getByRole('link', { name: 'Oswin Tarrant' })).toBeVisible();
  await mine.close();
  await theirs.close();
});
