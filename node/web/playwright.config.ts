import { defineConfig } from '@playwright/test';

// Whole flows, in Debian's Chromium, against the program that PLUMBLINE names. One after the other: they share a staff.
export default defineConfig({
  testDir: 'flow',
  workers: 1,
  timeout: 120_000,
  // Long, since a busy machine is no fault of the page; what is shown at once passes at once.
  expect: { timeout: 20_000 },
  reporter: [['list']],
  use: {
    viewport: { width: 1440, height: 900 },
    launchOptions: {
      executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
      args: [
        '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
        '--disable-component-update', '--disable-sync',
      ], // prettier-ignore
    },
  },
});
