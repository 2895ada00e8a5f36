export const numbers = async () => [];
