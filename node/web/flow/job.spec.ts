import { expect, type Page, test } from '@playwright/test';
import { type Laptop, Staff, typing } from './staff';

// The main job in three browsers, from the keyboard alone: two scouts who can't reach each other write the same fact
// differently, meet, and the director settles it. All names are invented.

let staff: Staff;
let director: Laptop;
let tobrin: Laptop;
let elsbet: Laptop;

test.beforeAll(async () => {
  staff = await Staff.found();
  [director, tobrin, elsbet] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road'), staff.laptop('elsbet-road')];
});
test.afterAll(async () => {
  await Promise.all([director.stop(), tobrin.stop(), elsbet.stop()]);
  await staff.end();
});

const player = 'Daxel Zeleskil';

/** Opens a prospect by name. */
async function open(page: Page, name: string) {
  await page.keyboard.press('Control+k');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type(name);
  await expect(page.getByRole('option', { name })).toBeVisible();
  await page.keyboard.press('Enter');
  await expect(page.getByRole('heading', { level: 1, name })).toBeVisible();
}

/** Writes a field of the prospect that is open. */
async function write(page: Page, field: string, text: string) {
  const button = page.getByRole('button', { name: `Change ${field}` });
  await page.keyboard.press('e');
  for (let i = 0; i < 12 && !(await button.evaluate((element) => element === document.activeElement)); i++) {
    await page.keyboard.press('Tab');
  }
  await page.keyboard.press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type(text);
  await page.keyboard.press('Enter');
  await expect(page.getByText('✓ saved')).toBeVisible();
}

const line = (page: Page, field: string) => page.locator('.record > div').filter({ has: page.locator('dt', { hasText: field }) });

test('two scouts differ, meet, and the director settles it before all eyes', async ({ browser }) => {
  const pages = await Promise.all(
    [director, tobrin, elsbet].map(async (laptop) => {
      const page = await browser.newPage();
      await page.goto(await laptop.start());
      await expect(page.getByText(/^live/)).toBeVisible();
      return page;
    }),
  );
  const [mine, his, hers] = pages as [Page, Page, Page];

  await open(his, player);
  await write(his, 'Hometown', 'Low Ridge');
  await open(hers, player);
  await write(hers, 'Hometown', 'Wren Hollow');
  await open(mine, player);
  await tobrin.run('connect', director.links);
  await expect(line(mine, 'Hometown')).toContainText('Low Ridge');
  await elsbet.run('connect', director.links);
  for (const page of pages) await expect(line(page, 'Hometown')).toContainText('≠ 2 values');

  await mine.keyboard.press('c');
  await expect(mine.getByText('Hometown stands there in 2 ways')).toBeVisible();
  const wren = mine.getByRole('button', { name: /Wren Hollow/ });
  await mine.keyboard.press((await wren.locator('kbd').textContent()) ?? '');
  await expect(mine.getByText('All are settled.')).toBeVisible();
  for (const page of [his, hers]) {
    await expect(line(page, 'Hometown')).toContainText('Wren Hollow');
    await expect(line(page, 'Hometown')).toContainText('Maro Quellish');
    await expect(page.getByText('≠ 2 values')).toHaveCount(0);
  }
  const states = await Promise.all([director, tobrin, elsbet].map(async (laptop) => JSON.parse(await laptop.run('status', '--json'))));
  expect(new Set(states.map((state) => state.state_hash)).size).toBe(1);
});
