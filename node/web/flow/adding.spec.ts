import { readFile } from 'node:fs/promises';
import { expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { byKeyboard } from './hands';
import { type Laptop, Staff, typing } from './staff';

// Records of every kind are added, changed and retired on the page. All names are invented; words of the trade are common
// practice, no source.

let staff: Staff;
let director: Laptop;
let scout: Laptop;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  [director, scout] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road')];
  await Promise.all([director.start(), scout.start()]);
});
test.afterAll(async () => {
  await Promise.all([director.stop(), scout.stop()]);
  await staff.end();
});

async function open(page: Page, laptop: Laptop, prospect: string) {
  await page.goto(await laptop.run('open', '--print'));
  await expect(page.getByText(/^live/)).toBeVisible();
  await byKeyboard.open(page, prospect);
}

/** Two keys in a row, and the form that they open. */
async function openForm(page: Page, keys: string, title: string) {
  for (const key of keys) await page.keyboard.press(key);
  await expect(page.getByRole('form', { name: title })).toBeVisible();
  await expect(typing(page)).toBeVisible();
}

/** Types into one field after the other, as Tab leads there; what is offered is taken with it. */
async function typeOn(page: Page, texts: readonly string[]) {
  for (const text of texts) {
    if (text !== '') await page.keyboard.type(text);
    await page.keyboard.press('Tab');
  }
}

/** Types what another record begins with, sees it offered, and takes it. */
async function pick(page: Page, beginning: string, name: string) {
  await page.keyboard.type(beginning);
  await expect(page.getByRole('option', { name })).toBeVisible();
  await page.keyboard.press('Tab');
}

const said = (page: Page, text: string) => expect(page.locator('.said-line')).toContainText(text);

/** What the command line lists, which reads the ledger itself. */
async function listed(laptop: Laptop, ...args: string[]): Promise<string[]> {
  const answer = JSON.parse(await laptop.run('list', ...args, '--json')) as { rows?: { texts: string[] }[] };
  return (answer.rows ?? []).map((row) => row.texts.join(' | '));
}

test('a scout charts a look with its reps by keyboard alone', async ({ page }) => {
  await open(page, scout, 'Daxel Zeleskil');
  await openForm(page, 'al', 'Add a look');
  await page.keyboard.type('durnfell lorm');
  await expect(page.getByRole('option', { name: /Durnfell Polytechnic at Lormmoor College/ })).toBeVisible();
  await page.keyboard.press('Enter');
  await expectReadable(page, 'a look');
  await page.keyboard.press('Enter');
  await said(page, '✓ saved: look');

  await openForm(page, 'ar', 'The next rep');
  await expect(page.getByLabel('Rep', { exact: true })).toHaveValue('1');
  await page.keyboard.press('Shift+Tab');
  await typeOn(page, ['1', '12:31', '3', '10', 'own 25', 'p', 'vert', 'wide', 'bull', '91', '', '+', 'clean']);
  await expectReadable(page, 'a rep');
  // The chart lies in a table that is wider than a small screen, and its form isn't.
  const large = page.viewportSize();
  await page.setViewportSize({ width: 390, height: 844 });
  const form = await page.getByRole('form').boundingBox();
  expect((form?.x ?? 0) + (form?.width ?? 0)).toBeLessThanOrEqual(390);
  if (large) await page.setViewportSize(large);
  await page.keyboard.press('Enter');
  await expect(page.getByRole('row', { name: /^1 Q1 12:31 3 & 10 own 25 pass/ })).toBeVisible();

  // What holds on is there already: the quarter, the opponent; the reps are counted.
  await expect(page.getByLabel('Rep', { exact: true })).toHaveValue('2');
  await expect(page.getByLabel('Quarter')).toHaveValue('1');
  await expect(page.getByLabel('Opponent’s jersey').or(page.getByLabel("Opponent's jersey"))).toHaveValue('91');
  await expect(page.getByLabel('Clock')).toBeFocused();
  await typeOn(page, ['12:04', '1', '10', 'opp 30', 'r', 'reach', 'outside z', 'inside e', '', '', '', '-', 'shed']);
  await page.keyboard.press('Control+Enter');
  await expect(page.getByLabel('Rep', { exact: true })).toHaveValue('3');
  await page.keyboard.press('Escape');
  await expect(page.getByRole('form')).toHaveCount(0);
  expect(await listed(scout, 'rep', '--where', 'look.contains("Zeleskil") || number < 3', '--columns', 'number,play,pass_set,assignment,move,result,outcome', '--search', '')).toEqual(
    expect.arrayContaining(['1 | pass | vertical |  | bull | won | clean', '2 | run |  | reach |  | lost | shed']),
  );
});

test('a measurement, an evaluation, a claim with its reps, and filing', async ({ page }) => {
  await open(page, scout, 'Daxel Zeleskil');
  await openForm(page, 'am', 'Add a measurement');
  await typeOn(page, ['arm', '33 1/2']);
  await page.keyboard.press('Enter'); // opens the sources
  await page.keyboard.press('Escape');
  await page.keyboard.type('ver');
  await page.keyboard.press('Tab');
  await page.keyboard.type('yesterday');
  await page.keyboard.press('Tab');
  await expect(page.getByLabel('Date of the measurement')).toHaveValue(/^\d{4}-\d\d-\d\d$/);
  await expect(page.getByText(/reads as 334, verified/)).toBeVisible();
  await page.keyboard.press('Control+Enter');
  await said(page, '✓ saved: measurement');

  await openForm(page, 'ae', 'Add an evaluation');
  await typeOn(page, ['6', '10', 'year tw', 'spot']);
  await expect(page.getByText(/must be from 1 to 9/)).toBeVisible();
  await page.keyboard.press('Control+Enter');
  await expect(page.getByLabel('Projected')).toBeFocused();
  await page.keyboard.type('7');
  await typeOn(page, ['', '', '', '5', '6']);
  await expectReadable(page, 'an evaluation');
  await page.keyboard.press('Control+Enter');
  await said(page, '✓ saved: evaluation');
  expect(await listed(scout, 'evaluation', '--where', 'by == "Tobrin Askerly" && projected == 7', '--columns', 'overall,reach,role')).toContain(
    '6 | year_two | spot_starter',
  );

  await openForm(page, 'ac', 'Add a claim');
  await typeOn(page, ['+', '1 of 2', 'rep 1']);
  await expect(page.getByRole('button', { name: /^Leave out rep 1,/ })).toBeVisible();
  await page.keyboard.type('Anchors against power.');
  await page.keyboard.press('Control+Enter');
  await said(page, '✓ saved: claim');
  await expect(page.getByText('1 rep: 1')).toBeVisible();

  await page.keyboard.press('F');
  await expect(page.getByRole('alertdialog', { name: 'File this evaluation?' })).toBeVisible();
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await said(page, '✓ filed');
  await expect(page.getByRole('columnheader', { name: /Tobrin Askerly filed \d{4}-\d\d-\d\d/ }).last()).toBeVisible();
  const own = 'by == "Tobrin Askerly" && projected == 7 && role == "spot_starter"';
  expect(await listed(scout, 'evaluation', '--where', own, '--columns', 'filed')).toEqual([expect.stringMatching(/^\d{4}-\d\d-\d\d$/)]);
});

test('half of a note outlives a killed node and a reload', async ({ page }) => {
  await open(page, scout, 'Daxel Zeleskil');
  await openForm(page, 'an', 'Add a note');
  await page.getByLabel('Text').fill('Quiet fe');
  await scout.stop('SIGKILL');
  await page.getByLabel('Text').pressSequentially('et on the move.');
  await page.keyboard.press('Control+Enter');
  await expect(page.getByText('Not saved')).toBeVisible();
  await scout.start();
  await page.reload();
  await expect(page.getByLabel('Text')).toHaveValue('Quiet feet on the move.');
  await page.getByLabel('Text').press('Control+Enter');
  await said(page, '✓ saved: note');
  await expect(page.getByText('Quiet feet on the move.')).toHaveCount(1);
  expect((await listed(scout, 'note', '--columns', 'text')).filter((text) => text.includes('Quiet feet'))).toHaveLength(1);
});

test('a rep is changed; who may not change a look is told why', async ({ page }) => {
  await open(page, scout, 'Daxel Zeleskil');
  await page.keyboard.press('l');
  await page.getByRole('button', { name: 'Change rep 2' }).press('Enter');
  await page.getByLabel('Result').fill('=');
  await page.keyboard.press('Control+Enter');
  await said(page, '✓ saved: rep');
  await expect(page.getByRole('row', { name: /^2 .*even, shed/ })).toBeVisible();

  await byKeyboard.open(page, 'Daxel Daskovick');
  const change = page.getByRole('button', { name: /^Change the look at/ }).first();
  await expect(change).toHaveAttribute('aria-disabled', 'true');
  await change.press('Enter');
  await said(page, 'only they can change it');
  await page.keyboard.press('a');
  await page.keyboard.press('f');
  await said(page, 'Only a director may write a flag.');
});

test('a game, a factor with its anchors and a flag are a director’s to add', async ({ page }) => {
  await open(page, director, 'Caspin Elkorrow');
  await openForm(page, 'af', 'Add a flag');
  await typeOn(page, ['med']);
  await pick(page, 'elsb', 'Elsbet Crannow');
  await page.keyboard.press('Control+Enter');
  await said(page, '✓ saved: flag');
  await page.keyboard.press('g');
  await page.keyboard.press('r');
  await expect(page.getByRole('heading', { level: 1, name: 'games' })).toBeVisible();
  await openForm(page, 'n', 'Add a game');
  await page.keyboard.type('2026-10-10');
  await typeOn(page, ['', 'Salt Lick', 'Low Ridge', '2026', '6']);
  await page.keyboard.press('Control+Enter');
  await expect(page.getByRole('heading', { level: 1, name: 'Low Ridge at Salt Lick, 2026-10-10' })).toBeVisible();

  await page.goto(`${director.api}/lists/factor`);
  await expect(page.getByRole('heading', { level: 1, name: 'factors' })).toBeVisible();
  await openForm(page, 'n', 'Add a factor');
  await page.keyboard.type('low_pads');
  await page.getByLabel('7', { exact: true }).fill('Under everybody’s pads, also late.');
  await expectReadable(page, 'a factor');
  await page.keyboard.press('Control+Enter');
  await expect(page.getByRole('heading', { level: 1, name: 'low_pads' })).toBeVisible();
  await expect(page.getByText('Under everybody’s pads, also late.')).toBeVisible();
});

test('a prospect is entered, retired with what goes with him in sight, and kept again', async ({ page }) => {
  await open(page, scout, 'Daxel Zeleskil');
  await openForm(page, 'N', 'Add a prospect');
  await typeOn(page, ['Orrin Valetta', 'LT', 'Salt Lick', '2027']);
  await page.keyboard.press('Enter');
  await expect(page.getByRole('heading', { level: 1, name: 'Orrin Valetta' })).toBeVisible();
  await expect(page.getByText('Tackle, Salt Lick, 2027')).toBeVisible();
  await openForm(page, 'an', 'Add a note');
  await page.getByLabel('Text').fill('Came from nowhere.');
  await page.keyboard.press('Control+Enter');
  await said(page, '✓ saved: note');

  // A note is asked about by what it says, not by its id.
  await page.getByRole('button', { name: 'Retire the note' }).press('Enter');
  await expect(page.getByRole('alertdialog', { name: 'Retire note on Orrin Valetta: “Came from nowhere.”?' })).toBeVisible();
  await page.keyboard.press('Escape');
  await expect(page.getByRole('alertdialog')).toHaveCount(0);

  await page.keyboard.press('x');
  const question = page.getByRole('alertdialog', { name: 'Retire Orrin Valetta?' });
  await expect(question).toContainText('Out of sight with it: 1 note.');
  await expectReadable(page, 'retiring');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await said(page, '✓ retired: Orrin Valetta');
  await page.keyboard.press('u');
  await page.keyboard.press('/');
  await page.keyboard.type('Valetta');
  await expect(page.getByText('Nobody matches.')).toBeVisible();
  await page.keyboard.press('Escape');
  await page.keyboard.press('t');
  await expect(page.getByRole('row', { name: /Valetta/ })).toBeVisible();
  await page.keyboard.press('j');
  await page.keyboard.press('Enter');
  await expect(page.getByText('He was retired')).toBeVisible();
  await page.keyboard.press('x');
  await said(page, '✓ kept: Orrin Valetta');
  await expect(page.getByText('He was retired')).toHaveCount(0);
  expect(await listed(scout, '--search', 'Valetta', '--columns', 'name')).toEqual(['Orrin Valetta']);
});

test('the list is saved as it stands, as CSV and as a workbook', async ({ page }) => {
  await page.goto(await scout.run('open', '--print'));
  await expect(page.getByRole('row').nth(3)).toBeVisible();
  await page.keyboard.press('/');
  await page.keyboard.type('daxel');
  await expect(page.getByRole('status').filter({ hasText: /^3 prospects$/ })).toBeVisible();
  await page.keyboard.press('Escape');
  const waiting = page.waitForEvent('download');
  await page.keyboard.press('e');
  await page.keyboard.press('c');
  const file = await waiting;
  expect(file.suggestedFilename()).toBe('prospects.csv');
  const lines = (await readFile((await file.path()) ?? '', 'utf8')).trim().split('\r\n');
  expect(lines[0]).toContain('record,name,position,school');
  expect(lines.slice(1).map((line) => line.split(',')[1])).toEqual(['Daxel Brinubbin', 'Daxel Daskovick', 'Daxel Zeleskil']);
  const second = page.waitForEvent('download');
  await page.getByRole('button', { name: 'XLSX' }).click();
  const book = await second;
  expect(book.suggestedFilename()).toBe('prospects.xlsx');
  expect((await readFile((await book.path()) ?? '')).subarray(0, 2).toString()).toBe('PK');
});
