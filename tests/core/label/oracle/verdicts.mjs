// What bwip-js says of element strings: one line in, one line out, "ok" or the name of the error.
// A line is JSON: {"kind": "gs1" | "hibc" | "link", "text": "..."}.
import {createRequire} from 'node:module';
import {pathToFileURL} from 'node:url';
import readline from 'node:readline';

const require = createRequire(pathToFileURL(process.argv[2] + '/x.mjs'));
const bwipjs = require('bwip-js');
const symbols = {
  gs1: {bcid: 'gs1datamatrix', parse: true},
  hibc: {bcid: 'hibcdatamatrix', validatecheck: true},
  link: {bcid: 'gs1dldatamatrix'},
};
for await (const line of readline.createInterface({input: process.stdin})) {
  const {kind, text} = JSON.parse(line);
  try {
    bwipjs.raw({...symbols[kind], text});
    console.log('ok');
  } catch (error) {
    const words = String(error.message ?? error);
    console.log((words.match(/bwipp\.[A-Za-z0-9]+/) ?? [words.split('\n')[0]])[0]);
  }
}
