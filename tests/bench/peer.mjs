// The same log by a column store, for tests/bench/run: node peer.mjs duckdb|polars columns|conditions FILE. Five columns: mean,
// least and greatest of each; a hundred conditions: how many rows meet each. Packages are looked for beside this file.
import { argv } from 'node:process'
const [, , peer, what, file] = argv
const columns = ['engine_speed [rpm]', 'manifold_pressure [kPa]', 'coolant_temperature [degC]', 'lambda [lambda]',
  'battery_voltage [V]']
const conditions = Array.from({ length: 100 }, (_, i) =>
  `count(*) filter (where "${columns[i % 5]}" > ${[2000, 100, 50, 1, 12][i % 5] + i / 100})`)
if (peer === 'duckdb') {
  const { DuckDBInstance } = await import('@duckdb/node-api')
  const connection = await (await DuckDBInstance.create(':memory:')).connect()
  const list = what === 'columns' ? columns.map((c) => `avg("${c}"), min("${c}"), max("${c}")`) : conditions
  const reader = await connection.runAndReadAll(`select ${list.join(', ')} from read_csv('${file}', header = true)`)
  console.log(JSON.stringify(reader.getRows()[0].slice(0, 5).map(String)))
} else {
  const { default: pl } = await import('nodejs-polars')
  const frame = pl.scanCSV(file, { inferSchemaLength: 50000 }).select(...columns.flatMap((c, i) =>
    [pl.col(c).mean().alias(`m${i}`), pl.col(c).min().alias(`l${i}`), pl.col(c).max().alias(`h${i}`)]))
  console.log(JSON.stringify((await frame.collect()).row(0)))
}
