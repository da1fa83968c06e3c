#!/usr/bin/env node
// A sample client: follows the depot's change feed and keeps its place, like follow.py beside it.
//
//   node follow.js SERVER STATE_FILE [--until SEQUENCE] [--tls-ca FILE] [--token-file FILE]
//
// It writes at most once a second, and when the feed says that there is nothing new: what it had not
// written is asked for again. It asks for the last entry once more and compares it: after a backup was
// restored another one stands there, or none. Needs the npm packages @grpc/grpc-js and @grpc/proto-loader; the words
// are read from proto/.
'use strict';

const fs = require('fs');
const path = require('path');
const grpc = require('@grpc/grpc-js');
const loader = require('@grpc/proto-loader');

const PROTO = path.join(__dirname, '../../../proto');
const SAVE_EVERY_MS = 1000;

// A token is read from a file, never from the command line.
function credentials(options) {
  if (!options.tlsCa) return grpc.credentials.createInsecure();
  return grpc.credentials.createSsl(fs.readFileSync(options.tlsCa));
}

function identity(options) {
  const metadata = new grpc.Metadata();
  if (options.tokenFile) {
    metadata.set('authorization', 'Bearer ' + fs.readFileSync(options.tokenFile, 'ascii').trim());
  }
  return metadata;
}

function ledger(server, options) {
  const words = loader.loadSync('ferrule/v1/ledger_service.proto',
      {includeDirs: [PROTO], keepCase: true, longs: Number, oneofs: true, enums: String});
  const {LedgerService} = grpc.loadPackageDefinition(words).ferrule.v1;
  // Nothing ever comes over a line that went silent: a ping a minute finds it out. The server allows
  // one every 50 seconds.
  return new LedgerService(server, credentials(options),
      {'grpc.keepalive_time_ms': 60000, 'grpc.keepalive_timeout_ms': 20000});
}

// The ledger is not the one that was followed.
function restored(file, sequence) {
  return new Error(`entry ${sequence} is not the one that was read before: the depot was restored ` +
      `from a backup, or is another one. Remove ${file}, undo what was made of it, and start again`);
}

// What no other entry of any ledger has: its id and when it was recorded.
function markOf(recorded) {
  const {seconds = 0, nanos = 0} = recorded.recorded_time;
  return `${recorded.entry.entry_id} ${seconds}.${String(nanos).padStart(9, '0')}`;
}

// The cursor and what was made of the entries before it, in one file.
class State {
  constructor(file) {
    this.file = file;
    this.sequence = 0;
    this.last = null; // the mark of the entry at the cursor
    this.orders = {};
    this.savedAt = 0;
    if (fs.existsSync(file)) Object.assign(this, JSON.parse(fs.readFileSync(file, 'utf8')));
    this.saved = this.sequence;
  }

  // The feed is asked for the entry at the cursor again, to see that it is still there.
  askedAfter() {
    return this.last ? this.sequence - 1 : this.sequence;
  }

  apply(recorded) {
    if (recorded.sequence === this.sequence && this.last) {
      if (markOf(recorded) !== this.last) throw restored(this.file, this.sequence);
      return;
    }
    if (recorded.sequence !== this.sequence + 1) {
      throw new Error(`entry ${recorded.sequence} after ${this.sequence}: a gap or a repeat`);
    }
    this.sequence = recorded.sequence;
    this.last = markOf(recorded);
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
    fs.writeSync(handle, JSON.stringify({sequence: this.sequence, last: this.last,
      orders: this.orders}));
    fs.fsyncSync(handle);
    fs.closeSync(handle);
    fs.renameSync(beside, this.file);
    this.saved = this.sequence;
    this.savedAt = Date.now();
  }
}

// One stream from the cursor on; resolves when it ends.
function watch(server, state, until, options) {
  return new Promise((resolve, reject) => {
    const client = ledger(server, options);
    const call = client.WatchEntries({after_sequence: state.askedAfter()}, identity(options));
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
      if (error.code === grpc.status.OUT_OF_RANGE) {
        return done(reject, restored(state.file, state.sequence));
      }
      done(reject, error);
    });
  });
}

const FLAGS = {'--until': 'until', '--tls-ca': 'tlsCa', '--token-file': 'tokenFile'};

async function main() {
  const [server, file, ...rest] = process.argv.slice(2);
  const options = {};
  for (let i = 0; i < rest.length; i += 2) {
    if (FLAGS[rest[i]] === undefined || rest[i + 1] === undefined) options.wrong = true;
    options[FLAGS[rest[i]]] = rest[i + 1];
  }
  if (!server || !file || options.wrong) {
    console.error('usage: node follow.js SERVER STATE_FILE [--until SEQUENCE] [--tls-ca FILE] ' +
        '[--token-file FILE]');
    process.exit(2);
  }
  const until = options.until === undefined ? undefined : Number(options.until);
  const state = new State(file);
  while (until === undefined || state.sequence < until) {
    await watch(server, state, until, options);
    if (until !== undefined && state.sequence >= until) break;
    // The server is away or being started again: ask again from the cursor.
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
  console.log(`at entry ${state.sequence}, ${Object.keys(state.orders).length} orders`);
}

main().catch((error) => { console.error(`follow.js: ${error.message}`); process.exit(1); });
