import { expect, type Page, test } from '@playwright/test';
import { byKeyboard, byMouse, type Hands, line } from './hands';
import { type Laptop, Staff } from './staff';

// The main job in three browsers, on pages alone: two scouts who can't reach each other write the same fact differently,
// meet, and the director settles it. All names are invented.

const player = 'Daxel Zeleskil';

for (const [how, hands] of [['from the keyboard alone', byKeyboard], ['by mouse', byMouse]] as const) {
  test(`two scouts differ, meet, and the director settles it before all eyes, ${how}`, async ({ browser }) => {
    const staff = await Staff.found();
    const laptops = ['maro-desk', 'tobrin-road', 'elsbet-road'].map((name) => staff.laptop(name));
    try {
      const pages = await Promise.all(
        laptops.map(async (laptop) => {
          const page = await browser.newPage();
          await page.goto(await laptop.start());
          await expect(page.getByText(/^live/)).toBeVisible();
          return page;
        }),
      );
      await job(pages as Three<Page>, laptops as Three<Laptop>, hands);
    } finally {
      await Promise.all(laptops.map((laptop) => laptop.stop()));
      await staff.end();
    }
  });
}

type Three<T> = [T, T, T];

async function job([mine, his, hers]: Three<Page>, laptops: Three<Laptop>, hands: Hands) {
  const { links } = laptops[0];
  await hands.open(his, player);
  await hands.write(his, 'Hometown', 'Low Ridge');
  await hands.open(hers, player);
  await hands.write(hers, 'Hometown', 'Wren Hollow');
  await hands.open(mine, player);
  await hands.connect(his, links);
  await expect(line(mine, 'Hometown')).toContainText('Low Ridge');
  await hands.connect(hers, links);
  await hands.open(his, player);
  await hands.open(hers, player);
  for (const page of [mine, his, hers]) await expect(line(page, 'Hometown')).toContainText('≠ 2 values');

  await hands.toConflicts(mine);
  await expect(mine.getByText('Hometown stands there in 2 ways')).toBeVisible();
  await hands.settle(mine, 'Wren Hollow');
  await expect(mine.getByText('All are settled.')).toBeVisible();
  for (const page of [his, hers]) {
    await expect(line(page, 'Hometown')).toContainText('Wren Hollow');
    await expect(line(page, 'Hometown')).toContainText('Maro Quellish');
    await expect(page.getByText('≠ 2 values')).toHaveCount(0);
  }
  const states = await Promise.all(laptops.map(async (laptop) => JSON.parse(await laptop.run('status', '--json'))));
  expect(new Set(states.map((state) => state.state_hash)).size).toBe(1);
}
