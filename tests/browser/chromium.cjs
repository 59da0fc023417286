// How Chromium is started: it asks nobody for anything.
'use strict';

const FLAGS = [
  '--no-sandbox', // tests may run as root
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

module.exports = { FLAGS };
