export class Strips extends HTMLElement {}
