#!/usr/bin/env node
// A sample client: follows the depot's change feed and keeps its place, like follow.py beside it.
//
//   node follow.js SERVER STATE_FILE [--until SEQUENCE]
//
// It writes at most once a second, and when the feed says that there is nothing new: what it had not
// written is asked for again. Needs the npm packages @grpc/grpc-js and @grpc/proto-loader; the words
// are read from proto/.
'use strict';

const fs = require('fs');
const path = require('path');
const grpc = require('@grpc/grpc-js');
const loader = require('@grpc/proto-loader');

const PROTO = path.join(__dirname, '../../../proto');
const SAVE_EVERY_MS = 1000;

function ledger(server) {
  const words = loader.loadSync('ferrule/v1/ledger_service.proto',
      {includeDirs: [PROTO], keepCase: true, longs: Number, oneofs: true, enums: String});
  const {LedgerService} = grpc.loadPackageDefinition(words).ferrule.v1;
  // Nothing ever comes over a line that went silent: a ping a minute finds it out. The server allows
  // one every 50 seconds.
  return new LedgerService(server, grpc.credentials.createInsecure(),
      {'grpc.keepalive_time_ms': 60000, 'grpc.keepalive_timeout_ms': 20000});
}

// The cursor and what was made of the entries before it, in one file.
class State {
  constructor(file) {
    this.file = file;
    this.sequence = 0;
    this.orders = {};
    this.savedAt = 0;
    if (fs.existsSync(file)) Object.assign(this, JSON.parse(fs.readFileSync(file, 'utf8')));
    this.saved = this.sequence;
  }

  apply(recorded) {
    if (recorded.sequence !== this.sequence + 1) {
      throw new Error(`entry ${recorded.sequence} after ${this.sequence}: a gap or a repeat`);
    }
    this.sequence = recorded.sequence;
    for (const fact of recorded.entry.facts) {
      if (!['order_taken', 'order_changed', 'order_cancelled'].includes(fact.what)) continue;
      const {order} = fact[fact.what];
      this.orders[order] = (this.orders[order] || 0) + 1;
    }
  }

  saveWhenDue() {
    if (Date.now() - this.savedAt >= SAVE_EVERY_MS) this.save();
  }

  // Written beside the old one and put in its place: there is always a whole one.
  save() {
    if (this.sequence === this.saved) return;
    const beside = this.file + '.new';
    const handle = fs.openSync(beside, 'w');
    fs.writeSync(handle, JSON.stringify({sequence: this.sequence, orders: this.orders}));
    fs.fsyncSync(handle);
    fs.closeSync(handle);
    fs.renameSync(beside, this.file);
    this.saved = this.sequence;
    this.savedAt = Date.now();
  }
}

// One stream from the cursor on; resolves when it ends.
function watch(server, state, until) {
  return new Promise((resolve, reject) => {
    const client = ledger(server);
    const call = client.WatchEntries({after_sequence: state.sequence});
    const done = (end, value) => { client.close(); state.save(); end(value); };
    call.on('data', (batch) => {
      try {
        for (const recorded of batch.entries) {
          if (until === undefined || state.sequence < until) state.apply(recorded);
        }
        if (batch.entries.length > 0) {
          state.saveWhenDue();
        } else {
          state.save();
        }
        if (until !== undefined && state.sequence >= until) call.cancel();
      } catch (error) {
        call.cancel();
        done(reject, error);
      }
    });
    call.on('end', () => done(resolve));
    call.on('error', (error) => {
      const again = [grpc.status.UNAVAILABLE, grpc.status.CANCELLED].includes(error.code);
      if (again) return done(resolve);
      done(reject, error);
    });
  });
}

async function main() {
  const [server, file, flag, number] = process.argv.slice(2);
  if (!server || !file || (flag !== undefined && flag !== '--until')) {
    console.error('usage: node follow.js SERVER STATE_FILE [--until SEQUENCE]');
    process.exit(2);
  }
  const until = flag === undefined ? undefined : Number(number);
  const state = new State(file);
  while (until === undefined || state.sequence < until) {
    await watch(server, state, until);
    if (until !== undefined && state.sequence >= until) break;
    // The server is away or being started again: ask again from the cursor.
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
  console.log(`at entry ${state.sequence}, ${Object.keys(state.orders).length} orders`);
}

main().catch((error) => { console.error(String(error)); process.exit(1); });
