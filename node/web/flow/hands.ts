import { expect, type Page } from '@playwright/test';
import { typing } from './staff';

/** What somebody does on a page, in one of two ways. */
export interface Hands {
  /** Opens a prospect by name. */
  open(page: Page, name: string): Promise<void>;
  /** Writes a field of the prospect that is open. */
  write(page: Page, field: string, text: string): Promise<void>;
  /** Turns to another laptop. */
  connect(page: Page, address: string): Promise<void>;
  /** Goes to the conflicts of the prospect that is open. */
  toConflicts(page: Page): Promise<void>;
  /** Keeps one of the values of the conflict that is shown. */
  settle(page: Page, text: string): Promise<void>;
}

export const line = (page: Page, field: string) => page.locator('.record > div').filter({ has: page.locator('dt', { hasText: field }) });

/** A field's value alone: beside it stand who wrote it and when, and any number may be a part of a day or a time. */
export const value = (page: Page, field: string) => line(page, field).locator('.value-text');

const isOpen = (page: Page, name: string) => expect(page.getByRole('heading', { level: 1, name })).toBeVisible();
const isSaved = (page: Page) => expect(page.getByText('✓ saved')).toBeVisible();
const isLinked = (page: Page) => expect(page.getByText('✓ linked')).toBeVisible();

/** Keys alone: nothing here may point at anything. */
export const byKeyboard: Hands = {
  async open(page, name) {
    await page.keyboard.press('Control+k');
    await expect(typing(page)).toBeVisible();
    await page.keyboard.type(name);
    await expect(page.getByRole('option', { name })).toBeVisible();
    await page.keyboard.press('Enter');
    await isOpen(page, name);
  },
  async write(page, field, text) {
    const button = page.getByRole('button', { name: `Change ${field}` });
    await page.keyboard.press('e');
    for (let i = 0; i < 12 && !(await button.evaluate((element) => element === document.activeElement)); i++) {
      await page.keyboard.press('Tab');
    }
    await page.keyboard.press('Enter');
    await expect(typing(page)).toBeVisible();
    await page.keyboard.type(text);
    await page.keyboard.press('Enter');
    await isSaved(page);
  },
  async connect(page, address) {
    await page.keyboard.press('g');
    await page.keyboard.press('l');
    await expect(page.getByRole('heading', { name: 'Laptops' })).toBeVisible();
    await expect(page.getByLabel('Connect to an address')).toBeVisible();
    await page.keyboard.press('c');
    await expect(typing(page)).toBeVisible();
    await page.keyboard.type(address);
    await page.keyboard.press('Enter');
    await isLinked(page);
  },
  async toConflicts(page) {
    await page.keyboard.press('c');
  },
  async settle(page, text) {
    const number = page.getByRole('button', { name: text }).locator('kbd');
    await page.keyboard.press((await number.textContent()) ?? '');
  },
};

/** The mouse alone, but for letters, which have to be typed. */
export const byMouse: Hands = {
  async open(page, name) {
    await page.getByRole('link', { name: 'Prospects' }).click();
    await page.getByRole('searchbox').click({ clickCount: 3 });
    await page.keyboard.type(name);
    await page.getByRole('link', { name }).click();
    await isOpen(page, name);
  },
  async write(page, field, text) {
    await page.getByRole('button', { name: `Change ${field}` }).click();
    await expect(typing(page)).toBeVisible();
    await page.keyboard.type(text);
    await page.getByRole('button', { name: 'Save' }).click();
    await isSaved(page);
  },
  async connect(page, address) {
    await page.getByRole('link', { name: 'Laptops' }).click();
    await page.getByLabel('Connect to an address').click();
    await page.keyboard.type(address);
    await page.getByRole('button', { name: 'Connect' }).click();
    await isLinked(page);
  },
  async toConflicts(page) {
    await page.getByRole('link', { name: /to settle/ }).click();
  },
  async settle(page, text) {
    await page.getByRole('button', { name: text }).click();
  },
};
