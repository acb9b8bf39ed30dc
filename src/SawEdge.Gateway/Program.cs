using System.CommandLine;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Blades;
using SawEdge.Gateway.Commands.Commissioning;
using SawEdge.Gateway.Commands.Comparing;
using SawEdge.Gateway.Commands.Demo;
using SawEdge.Gateway.Commands.Estimate;
using SawEdge.Gateway.Commands.Explain;
using SawEdge.Gateway.Commands.Export;
using SawEdge.Gateway.Commands.FirstRun;
using SawEdge.Gateway.Commands.Histories;
using SawEdge.Gateway.Commands.Outbox;
using SawEdge.Gateway.Commands.Status;
using SawEdge.Gateway.Commands.Support;
using SawEdge.Gateway.Commands.Tokens;

var root = new RootCommand("SawEdge: reads band saws, compares actual with expected cut times, writes to InfluxDB. It never writes to a controller.")
{
    RunCommand.Create(),
    InitCommand.Create(),
    DemoCommand.Create(),
    CheckCommand.Create(),
    StatusCommand.Create(),
    SupportCommand.Create(),
    SchemaCommand.Create(),
    EstimateCommand.Create(),
    BladeCommand.Create(),
    ExplainCommand.Create(),
    AlarmCommand.Create(),
    ReportCommand.Create(),
    StandardsCommand.Create(),
    CompareCommand.Create(),
    ExportCommand.Create(),
    HistoryCommand.Create(),
    TokenCommand.Create(),
    OutboxCommand.Create(),
    WatchCommand.Create(),
    ScanCommand.Create(),
    RecordCommand.Create(),
    ReplayCommand.Create((settings, options, cancellation) => ReplayRun.StartAsync(settings, options, TimeProvider.System, Console.Error.WriteLine, cancellation), TimeProvider.System),
};
return await root.Parse(args).InvokeAsync(new InvocationConfiguration { ProcessTerminationTimeout = TimeSpan.FromSeconds(35) });
