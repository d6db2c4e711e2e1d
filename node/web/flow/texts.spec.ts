import { expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { byKeyboard, line, value } from './hands';
import { type Laptop, Staff, typing } from './staff';
import { alike, rewrite, valuesOf, writeApart } from './writing';

// Texts that two laptops edited apart, and values that change while one is typed. All names and texts are invented.

const player = 'Daxel Zeleskil';
const note = 'Long arms, patient hands. Late with the punch. Ask the line coach.';

let staff: Staff;
let director: Laptop;
let scout: Laptop;
let page: Page;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async ({ browser }) => {
  staff = await Staff.found();
  [director, scout] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road')];
  page = await (await browser.newContext()).newPage();
  await page.goto(await director.start());
  await scout.start();
  await scout.run('connect', director.links);
  await rewrite(director, player, 'note', note);
  await alike(director, scout);
});
test.afterAll(async () => {
  await Promise.all([director.stop(), scout.stop()]);
  await staff.end();
});

async function toConflictOf(name: string, field: string) {
  await expect(page.getByText(/^live/)).toBeVisible();
  await byKeyboard.open(page, name);
  await byKeyboard.toConflicts(page);
  await expect(page.getByText(`${field} stands there in 2 ways`)).toBeVisible();
}

/** What the director holds, and everybody hears of. */
async function expectSettled(text: string) {
  await expect.poll(() => valuesOf(director, player, 'note')).toMatchObject([{ text }]);
  await alike(director, scout);
}

test('what two changed in different places is merged by itself, and saved as one value in place of both', async () => {
  const [mine, his] = [note.replace('Long', 'Very long'), `${note} Watch the second half.`];
  const [address] = await writeApart([director, scout], player, 'note', [mine, his]);
  await page.goto(address ?? '');
  await toConflictOf(player, 'Note');
  await expect(page.locator('.side')).toContainText(note);
  await expect(page.getByText('Nobody changed what another one changed.')).toBeVisible();
  const merged = 'Very long arms, patient hands. Late with the punch. Ask the line coach. Watch the second half.';
  await expect(page.getByRole('textbox', { name: 'The merged text' })).toHaveValue(merged);
  await expectReadable(page, 'a merged text');
  await page.keyboard.press('e');
  await page.keyboard.press('Control+End');
  await page.keyboard.type(' Twice.');
  await page.keyboard.press('Enter');
  await expect(page.getByText('All are settled.')).toBeVisible();
  await expectSettled(`${merged} Twice.`);
});

test('what both changed is chosen place by place from the keyboard', async () => {
  await rewrite(director, player, 'note', note);
  await alike(director, scout);
  const mine = note.replace('Late', 'Early').replace('line coach', 'head coach');
  const his = note.replace('Late', 'Wild').replace('Long arms', 'Arms');
  const [address] = await writeApart([director, scout], player, 'note', [mine, his]);
  await page.goto(address ?? '');
  await toConflictOf(player, 'Note');
  await expect(page.getByText('One place is to be chosen')).toBeVisible();
  await expectReadable(page, 'a place to choose');
  const number = await page.locator('.sides .choice').filter({ hasText: 'Wild' }).locator('kbd').textContent();
  await page.keyboard.press('m');
  await page.keyboard.press(number ?? '');
  await expect(page.getByRole('textbox', { name: 'The merged text' })).toHaveValue(/Wild with the punch/);
  await page.keyboard.press('Enter');
  await expect(page.getByText('All are settled.')).toBeVisible();
  await expectSettled('Arms, patient hands. Wild with the punch. Ask the head coach.');
});

test('a value that comes from another laptop while one types is shown, with its author, before anything is saved', async () => {
  await byKeyboard.open(page, player);
  await page.getByRole('button', { name: 'Change Hometown' }).press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('Low Rid');
  await rewrite(scout, player, 'hometown', 'Wren Hollow');
  const choice = page.getByRole('group', { name: 'It changed while you were typing' });
  await expect(choice).toContainText('Wren Hollow');
  await expect(choice).toContainText('Tobrin Askerly');
  await expect(typing(page)).toHaveValue('Low Rid'); // whoever types goes on typing
  await page.keyboard.type('ge');
  await expectReadable(page, 'a value that changed');
  await page.keyboard.press('Enter');
  expect(await valuesOf(director, player, 'hometown')).toMatchObject([{ text: 'Wren Hollow' }]);
  await page.keyboard.press('1');
  await expect(page.getByText('✓ saved')).toBeVisible();
  await expect.poll(() => valuesOf(scout, player, 'hometown')).toMatchObject([{ text: 'Low Ridge' }]);
});

test('a value that another tab saved is shown too, and may stay', async () => {
  const tab = await page.context().newPage();
  await tab.goto(page.url());
  await expect(tab.getByText(/^live/)).toBeVisible();
  await page.getByRole('button', { name: 'Change Jersey' }).press('Enter');
  await page.keyboard.type('7');
  await byKeyboard.open(tab, 'Fenno Daskovick');
  await byKeyboard.open(tab, player);
  await tab.getByRole('button', { name: 'Go on with Jersey' }).click(); // the other tab's half
  await expect(typing(tab)).toHaveValue('7');
  await typing(tab).press('Escape');
  await rewrite(director, player, 'jersey', '55');
  await expect(page.getByRole('group', { name: 'It changed while you were typing' })).toContainText('Maro Quellish');
  await page.getByRole('button', { name: 'Keep it as it is now' }).click();
  await expect(value(page, 'Jersey')).toHaveText('55');
  await expect(line(tab, 'Jersey')).not.toContainText('not saved yet'); // dropped here, dropped there
  await tab.close();
});

test('half of a text outlives another page, a closed tab and a node that is gone, and is not saved over what came', async () => {
  const context = page.context();
  await page.getByRole('button', { name: 'Change Note' }).press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type(' See him in the co');
  await byKeyboard.open(page, 'Fenno Daskovick');
  await byKeyboard.open(page, player);
  await expect(line(page, 'Note')).toContainText('not saved yet');
  const address = page.url();
  await page.close();
  await director.stop('SIGKILL');
  const before = (await valuesOf(scout, player, 'note'))[0]?.text ?? '';
  await rewrite(scout, player, 'note', before.replace('Arms', 'Very long arms'));
  await director.start();
  await scout.run('connect', director.links);
  await alike(director, scout);

  page = await context.newPage();
  await page.goto(address);
  await page.getByRole('button', { name: 'Go on with Note' }).click();
  await expect(typing(page)).toHaveValue(`${before} See him in the co`);
  await page.keyboard.type('ld.');
  await page.keyboard.press('Enter');
  await page.keyboard.press('3');
  const merged = `${before.replace('Arms', 'Very long arms')} See him in the cold.`;
  await expect(typing(page)).toHaveValue(merged);
  await page.keyboard.press('Enter');
  await expect(page.getByText('✓ saved')).toBeVisible();
  await expectSettled(merged);
});
