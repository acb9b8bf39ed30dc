using System.Management.Automation;
using System.Management.Automation.Runspaces;
using Microsoft.PowerShell;

// Runs the PowerShell that stands on the command line. PowerShell's own program wants a console, of which an emulated Windows without a screen has none.
// Ends with 1 where anything was an error.
var state = InitialSessionState.CreateDefault();
state.ExecutionPolicy = ExecutionPolicy.Bypass;
using var shell = PowerShell.Create(state);
shell.AddScript(string.Join(' ', args));
var failed = false;
var output = new PSDataCollection<PSObject>();
output.DataAdded += (_, added) => Console.Out.WriteLine(output[added.Index]);
shell.Streams.Error.DataAdded += (_, added) => Tell(shell.Streams.Error[added.Index].ToString());
try
{
    shell.Invoke(null, output);
}
catch (RuntimeException e)
{
    Tell(e.ErrorRecord + e.ErrorRecord.InvocationInfo?.PositionMessage);
}

return failed ? 1 : 0;

void Tell(string words)
{
    failed = true;
    Console.Error.WriteLine(words);
}
