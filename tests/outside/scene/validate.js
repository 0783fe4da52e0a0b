// Prints what the Khronos Group's validator finds in a glTF file, as JSON.
const { readFileSync } = require("fs");
const validator = require("gltf-validator");

const bytes = new Uint8Array(readFileSync(process.argv[2]));
validator.validateBytes(bytes).then((report) => console.log(JSON.stringify(report)));
