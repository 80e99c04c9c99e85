// What is installed beside the program: manual pages, the unit, completion; and that they tell of all that there is.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { existsSync, readFileSync, readdirSync, statSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { build, root, scratch, waterturn } from "../support/program.mjs";

const EXPOSURE_MOST = 2.0; // of systemd-analyze security
const page = (name) => readFileSync(path.join(root, "config/man", name), "utf8");
const commands = [...waterturn("--help").stdout.matchAll(/^ {2}([a-z0-9]+) /gm)].map(([, name]) => name);

test("the manual pages are well-formed", () => {
  for (const name of readdirSync(path.join(root, "config/man"))) {
    const found = spawnSync("mandoc", ["-T", "lint", path.join(root, "config/man", name)], { encoding: "utf8" });
    assert.equal(found.error, undefined, "mandoc is there");
    // Our own pages refer to each other before they are installed.
    assert.deepEqual((found.stdout + found.stderr).split("\n").filter((line) => line && !/referenced manual not found: Xr waterturn/.test(line)), [], name);
  }
});

test("the manual tells of every command, setting and key", () => {
  assert.ok(commands.length > 10);
  for (const command of commands) assert.match(page("waterturn.1"), new RegExp(`^\\.It Cm (?:.* )?(?:Cm )?${command}\\b`, "m"), command);
  const settings = readFileSync(path.join(root, "daemon/lifecycle/settings.c"), "utf8");
  for (const [, key] of settings.matchAll(/^ {4}\{"([a-z]+)", KIND_/gm)) assert.match(page("waterturn.1"), new RegExp(`^(\\.It )?\\.?(Cm )?.*\\b${key}\\b`, "m"), key);
  const schema = readFileSync(path.join(root, "config/farm.schema.json"), "utf8");
  const keys = new Set();
  const walk = (part) => {
    for (const [name, value] of Object.entries(part ?? {})) {
      if (name === "properties") Object.keys(value).forEach((key) => keys.add(key));
      if (value && typeof value === "object") walk(value);
    }
  };
  walk(JSON.parse(schema));
  assert.ok(keys.size > 60);
  const farm = page("waterturn-farm.5");
  for (const key of keys) assert.ok(new RegExp(`\\b${key}\\b`).test(farm), key);
  const layouts = readFileSync(path.join(root, "daemon/source/layout_parse.c"), "utf8");
  const lists = [...layouts.matchAll(/^static const char \*const (?:top|time|value|flag|repeat)_keys\[\] = \{([^}]*)\}/gms)];
  assert.equal(lists.length, 5);
  const told = [...page("waterturn-layout.5").matchAll(/^(?:\.It )?\.?Cm (.*)$/gm)].flatMap(([, words]) => words.split(/[ ,]+/));
  const readme = readFileSync(path.join(root, "config/layouts/README.md"), "utf8");
  for (const [, list] of lists) {
    for (const [, key] of list.matchAll(/"([a-z_]+)"/g)) {
      assert.ok(told.includes(key), `${key} in the manual`);
      assert.match(readme, new RegExp(`[\`"]${key}[\`"]`), `${key} beside the layouts`);
    }
  }
});

test("the manual shows how a planting's quantities are written", () => {
  const { $defs } = JSON.parse(readFileSync(path.join(root, "config/farm.schema.json"), "utf8"));
  const quantity = (part) => [part, ...(part.anyOf ?? [])].some(({ $ref }) => /(length|depth|temperature|conductivity)$/.test($ref ?? ""));
  const part = page("waterturn-farm.5").split(".Ss plantings")[1];
  let seen = 0;
  const walk = (properties, text) => Object.entries(properties).forEach(([key, value]) => {
    const told = text.split(`.It Cm ${key}\n`)[1] ?? "";
    if (quantity(value)) assert.match(told.split(/^\.(?:It|El)/m)[0], /^Such as "/m, key), seen++;
    if (key === "root_depth") [value, ...(value.anyOf ?? [])].filter((way) => way.properties).forEach((way) => walk(way.properties, told));
  });
  walk($defs.planting.properties, part);
  assert.ok(seen > 7);
});

/** A manual page as it is read, and the example in it. */
const shown = (name) => spawnSync("mandoc", ["-T", "utf8", path.join(root, "config/man", name)], { encoding: "utf8" }).stdout.replace(/.\x08/gu, "");
const example = (text) => text.slice(text.indexOf("{"), text.lastIndexOf("}") + 1);

test("a quotation in the manual ends where its text does", () => {
  const manual = shown("waterturn.1").replace(/\s+/g, " ");
  for (const text of ["export [FILE] Writes the farm", 'server ("smtps://mail.example:465", or "smtp://mail.example:587", where', 'messages ("digest" and "urgent", both unless said)']) assert.ok(manual.includes(text), text);
});

test("the examples of the manual and of the texts are understood as they stand", (t) => {
  const to = scratch(t), env = { WATERTURN_LAYOUTS: to };
  const indented = (file, after) => readFileSync(path.join(root, file), "utf8").split(after)[1].match(/^(?: {4}.*\n)+/m)[0].replace(/^ {4}/gm, "");
  const farms = { manual: example(shown("waterturn-farm.5").split("\nEXAMPLES")[1]), readme: indented("README.md", "## A farm file") };
  for (const [name, text] of Object.entries(farms)) {
    const file = path.join(to, `farm-${name}.txt`);
    writeFileSync(file, text);
    const done = waterturn("check", file);
    assert.equal(done.status, 0, name + done.stderr);
  }
  const layouts = {
    manual: [example(shown("waterturn-layout.5").split("\nEXAMPLES")[1]), "Date;Temp max;Temp min;Rain\n14/07/2026;90;70;0.5\n"],
    beside: [indented("config/layouts/README.md", "A small one:"), "Day;T max;T min;Rain\n14/07/2026;90;70;0.5\n15/07/2026;---;70;0\n"],
  };
  for (const [name, [text, days]] of Object.entries(layouts)) {
    writeFileSync(path.join(to, `${name}.json`), text);
    writeFileSync(path.join(to, "days.txt"), days);
    const done = waterturn("layout", "try", path.join(to, "days.txt"), "--layout", name, { env });
    assert.equal(done.status, 0, name + done.stderr);
    assert.match(done.stdout, /^2026-07-14 +32\.2222 +21\.1111 +12\.7$/m);
  }
});

test("the unit holds together, and starts where no file of logins was made", (t) => {
  const text = readFileSync(path.join(root, "config/waterturn.service"), "utf8"), file = path.join(scratch(t), "waterturn.service");
  const loaded = /^LoadCredential=([^:]+):/m.exec(text)[1];
  assert.match(text, new RegExp(`^SetCredential=${loaded}:\\{\\}$`, "m"), "systemd.exec(5): what is set stands in for a file that is not there");
  writeFileSync(file, text.replace("/usr/bin/waterturn", path.join(build, "waterturn")).replace(/^Documentation=.*\n/m, ""));
  const judged = spawnSync("systemd-analyze", ["verify", file], { encoding: "utf8", env: { ...process.env, LC_ALL: "C" } });
  assert.deepEqual([judged.status, judged.stderr], [0, ""]);
});

test("the unit is confined", (t) => {
  const unit = path.join(root, "config/waterturn.service");
  const judged = spawnSync("systemd-analyze", ["security", "--offline=true", "--no-pager", unit], { encoding: "utf8", env: { ...process.env, LC_ALL: "C" } });
  assert.equal(judged.error, undefined, "systemd-analyze is there");
  const exposure = Number(/Overall exposure level for \S+: ([\d.]+)/.exec(judged.stdout)[1]);
  t.diagnostic(`measured: exposure of the unit by systemd-analyze: ${exposure}`);
  assert.ok(exposure < EXPOSURE_MOST, judged.stdout);
});

const there = (command) => spawnSync("sh", ["-c", `command -v ${command}`]).status === 0;

test("lintian finds nothing to say about the package", (t) => {
  const lacking = ["dh", "dpkg-buildpackage", "lintian"].filter((command) => !there(command));
  if (lacking.length > 0) return t.skip(`${lacking.join(", ")} not here: \`tests/tools/setup.sh deb\` installs what \`make deb\` and this need`);
  // Building it takes a minute or more; one that was made of these sources will do.
  const made = path.join(build, "deb"), packages = existsSync(made) ? readdirSync(made).filter((name) => /^waterturn_.*\.deb$/.test(name)) : [];
  const sources = spawnSync("git", ["log", "-1", "--format=%ct"], { cwd: root, encoding: "utf8" });
  const fresh = packages.length === 1 && sources.status === 0 && statSync(path.join(made, packages[0])).mtimeMs / 1000 > Number(sources.stdout);
  const to = fresh ? build : scratch(t);
  if (!fresh) {
    const built = spawnSync("make", ["-s", "deb", `BUILD=${to}`], { cwd: root, encoding: "utf8", maxBuffer: 1 << 28 });
    assert.equal(built.status, 0, built.stdout + built.stderr);
  }
  const file = readdirSync(path.join(to, "deb")).find((name) => /^waterturn_.*\.deb$/.test(name));
  const found = spawnSync("lintian", ["--no-tag-display-limit", "--display-info", "--fail-on", "error,warning", path.join(to, "deb", file)], { encoding: "utf8" });
  assert.equal(found.status, 0, found.stdout + found.stderr);
  t.diagnostic(`measured: lintian on ${file}: ${found.stdout.split("\n").filter(Boolean).length} remarks, none of them an error or a warning`);
});

test("make install puts everything below DESTDIR, and keeps settings that are there", (t) => {
  const to = scratch(t);
  const make = () => spawnSync("make", ["-s", "install", `BUILD=${build}`, `DESTDIR=${to}`, "prefix=/opt/w", "sysconfdir=/etc"], { cwd: root, encoding: "utf8" });
  const made = make();
  assert.equal(made.status, 0, made.stderr);
  for (const file of ["opt/w/bin/waterturn", "opt/w/share/man/man1/waterturn.1", "opt/w/share/man/man5/waterturn-farm.5", "opt/w/share/bash-completion/completions/waterturn", "etc/waterturn/daemon.json"]) assert.ok(existsSync(path.join(to, file)), file);
  assert.match(readFileSync(path.join(to, "opt/w/lib/systemd/system/waterturn.service"), "utf8"), /^ExecStart=\/opt\/w\/bin\/waterturn serve$/m);
  assert.match(spawnSync(path.join(to, "opt/w/bin/waterturn"), ["--version"], { encoding: "utf8" }).stdout, /^waterturn \d+\.\d+\.\d+\n$/);
  const settings = path.join(to, "etc/waterturn/daemon.json");
  spawnSync("sh", ["-c", `echo '{}' > ${settings}`]);
  assert.equal(make().status, 0);
  assert.equal(readFileSync(settings, "utf8"), "{}\n");
});

test("completion knows the commands and their options", () => {
  const complete = (words) => {
    const script = `PATH=${build}:$PATH; . config/completion/waterturn.bash; COMP_WORDS=(${words.map((word) => `'${word}'`).join(" ")}); COMP_CWORD=${words.length - 1}; _waterturn; echo "\${COMPREPLY[@]}"`;
    return spawnSync("bash", ["-c", script], { cwd: root, encoding: "utf8" }).stdout.trim().split(" ");
  };
  assert.deepEqual(complete(["waterturn", ""]).sort(), [...commands].sort());
  assert.deepEqual(complete(["waterturn", "pair", "--ro"]), ["--role"]);
  assert.deepEqual(complete(["waterturn", "pair", "--role", "m"]), ["manager"]);
});
