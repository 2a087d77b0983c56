import {connect} from "./engine.js"
const engine = await connect()
const answer = await engine.ask({study: "compare", flags: {trials: 50}})
document.getElementById("said").textContent = `${engine.via}: ${answer.result.verdict ?? answer.result.command}`
