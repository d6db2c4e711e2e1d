import { defineConfig } from '@playwright/test';
import config from '../playwright.config';

// Measuring takes as long as it takes; a slow machine is no failure.
export default defineConfig({ ...config, testDir: '.', timeout: 900_000, expect: { timeout: 120_000 }, reporter: [['line']] });
