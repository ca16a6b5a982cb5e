// The reference of the job: the same files through DuckDB, which does less with
// them. It prints the seconds taken. Usage: node reference.mjs FOLDER MODULES,
// with MODULES where "npm install @duckdb/node-api" was run.
import { createRequire } from 'node:module';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const [folder, modules] = process.argv.slice(2);
const { DuckDBInstance } = createRequire(join(modules, 'package.json'))('@duckdb/node-api');
const work = mkdtempSync(join(tmpdir(), 'reference-'));
try {
  const db = await DuckDBInstance.create(join(work, 'job.db'), { threads: '2' });
  const c = await db.connect();
  const steps = [
    `CREATE TABLE readings AS SELECT filename AS file, moment, glucose, event
     FROM read_csv('${folder}/*.csv', header = true, filename = true,
       columns = { 'moment': 'TIMESTAMP', 'glucose': 'DOUBLE', 'event': 'VARCHAR' })`,
    `CREATE TABLE measures AS SELECT file, count(*) AS n, avg(glucose) AS mean, stddev(glucose) AS sd,
       avg((glucose > 7.8)::INT) AS above78, avg((glucose > 10)::INT) AS above10, avg((glucose < 3.9)::INT) AS below39,
       avg((glucose < 3)::INT) AS below30, median(glucose) AS middle, min(glucose) AS least, max(glucose) AS most
     FROM readings GROUP BY file`,
    `CREATE TABLE hours AS SELECT file, hour(moment) AS hour, quantile_cont(glucose, [0.05, 0.25, 0.5, 0.75, 0.95]) AS q
     FROM readings GROUP BY file, hour(moment)`,
    `CREATE TABLE episodes AS SELECT file, min(moment) AS first, max(moment) AS last, count(*) AS n FROM (
       SELECT file, moment, glucose > 7.8 AS above, row_number() OVER (PARTITION BY file ORDER BY moment)
         - row_number() OVER (PARTITION BY file, glucose > 7.8 ORDER BY moment) AS run FROM readings)
     WHERE above GROUP BY file, run HAVING count(*) >= 3`,
    'CHECKPOINT',
  ];
  const began = performance.now();
  for (const s of steps) await c.run(s);
  const took = (performance.now() - began) / 1000;
  const n = await (await c.runAndReadAll('SELECT count(*)::INT FROM readings')).getRows();
  console.log(JSON.stringify({ seconds: took, readings: n[0][0] }));
} finally {
  rmSync(work, { recursive: true, force: true });
}
