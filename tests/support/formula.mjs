// Reckons a formula of the workings as it is written, from the numbers that the page says go into it.

const functions = { exp: Math.exp, ln: Math.log, sin: Math.sin, cos: Math.cos, tan: Math.tan, arccos: Math.acos, '√': Math.sqrt, min: Math.min, max: Math.max };
const operators = { '+': '+', '−': '-', '×': '*', '/': '/', '^': '**', '(': '(', ')': ')', ',': ',' };

/** `inputs`: { symbol: number }. */
export function reckon(formula, inputs) {
  const symbols = Object.keys(inputs).sort((a, b) => b.length - a.length);
  const names = Object.keys(functions);
  let code = '', rest = formula;
  const values = [];
  while (rest.length > 0) {
    const number = rest.match(/^\d+(\.\d+)?/);
    const symbol = symbols.find((s) => rest.startsWith(s));
    const name = names.find((n) => rest.startsWith(`${n}(`));
    if (rest[0] === ' ') {
      rest = rest.slice(1);
    } else if (name !== undefined) {
      code += `f[${names.indexOf(name)}]`;
      rest = rest.slice(name.length);
    } else if (symbol !== undefined) {
      code += `v[${values.push(inputs[symbol]) - 1}]`;
      rest = rest.slice(symbol.length);
    } else if (rest[0] === 'π') {
      code += 'Math.PI';
      rest = rest.slice(1);
    } else if (number !== null) {
      code += number[0];
      rest = rest.slice(number[0].length);
    } else if (rest[0] in operators) {
      code += operators[rest[0]];
      rest = rest.slice(1);
    } else {
      throw new Error(`"${rest}" of "${formula}" is no symbol of ${symbols.join(' ')}`);
    }
  }
  return new Function('f', 'v', `return ${code};`)(Object.values(functions), values);
}
