using SawEdge.Torture;

using var cancel = new CancellationTokenSource();
Console.CancelKeyPress += (_, pressed) =>
{
    pressed.Cancel = true;
    cancel.Cancel();
};
return await Harness.RunAsync(args, Console.Out, cancel.Token);
