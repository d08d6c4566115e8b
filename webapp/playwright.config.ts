import { defineConfig } from "@playwright/test";

/** Off: everything the browser would do on the network by itself. */
const quiet = [
  "--no-sandbox",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-default-apps",
  "--disable-domain-reliability",
  "--disable-sync",
  "--no-first-run",
  "--no-pings",
];

/** A phone, as most people hold it. */
const phone = {
  launchOptions: { executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: quiet },
  viewport: { width: 390, height: 844 },
  deviceScaleFactor: 2,
  hasTouch: true,
  isMobile: true,
};

export default defineConfig({
  outputDir: "test-results",
  reporter: [["list"], ["./e2e/support/summary.ts"]],
  forbidOnly: true,
  // A second try tells a race from a fault; both are reported, and a race is to be found with make shake.
  retries: process.env.CI ? 1 : 0,
  workers: 2, // the machine of the tests has two cores
  projects: [
    { name: "unit", testDir: "unit" },
    {
      name: "e2e", // to see what happened: --trace retain-on-failure (it makes everything slower)
      testDir: "e2e",
      testIgnore: "measure.spec.ts",
      timeout: 120_000,
      expect: { timeout: 15_000 },
      use: { ...phone, actionTimeout: 15_000, navigationTimeout: 30_000 },
    },
    { name: "field", testDir: "field", timeout: 120_000, expect: { timeout: 30_000 }, use: phone }, // on networks that it makes
    { name: "measure", testDir: "e2e", testMatch: "measure.spec.ts", timeout: 300_000, use: phone },
  ],
});
